"""Gears, clutch, converter and tires at each moment; the launch.

Gears: `ratios` (turns for the ground covered), `gear_path`, `unmade_changes`, `gears`, `gear_doubts`; the state at each
moment: `state`.
Launch: `launch`, `launch_hold` (engine speed held before it), `launch_low` (the lowest of it).
Tires: `tire` (growth and slip), `tire_lead`, `lasting_lead`, `wheelspin`.
Converter and others: `transmission`, `behind_converter`, `gliding` (no fixed ratio), `drive_lost`.
"""
