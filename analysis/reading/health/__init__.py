"""Whether sensors can be believed: samples that are lost, false, stuck, dead or cut off.

`check` calls one file a kind of trouble: `spikes`, `flatlines`, `drawn_between`, `no_fix`, `updates` (how often a
signal is new), `dead_speeds`, `accelerometer`. `between`: one channel against another, with the car (`speed_scale`,
`stated_tires`).
"""
