"""The flow bench and the dynamometer beside the track: geometry, gas speeds, where a curve falls off.

`sheets` reads them; `head` lays a flow sheet beside a run (`valve_flow`, `gas_speed`), `beside_track` a dynamometer's
curve; `before_after`: what a change did.
"""
