"""Words of headers that are cut short or joined, and what they are in full.

Public: `ABBREVIATIONS`.
"""

from __future__ import annotations

ABBREVIATIONS: dict[str, str] = {
    "press": "pressure", "pres": "pressure", "prs": "pressure", "prss": "pressure", "presure": "pressure",
    "temp": "temperature", "tmp": "temperature", "temperatur": "temperature", "spd": "speed", "speeds": "speed",
    "vel": "velocity", "accel": "acceleration", "acc": "acceleration", "accl": "acceleration", "eng": "engine",
    "ign": "ignition", "adv": "advance", "inj": "injector", "injection": "injector", "injectors": "injector",
    "exh": "exhaust", "clnt": "coolant", "cool": "coolant", "wtr": "water", "whl": "wheel", "whls": "wheel",
    "wheels": "wheel", "wspd": "wheel speed", "thr": "throttle", "thrtl": "throttle", "throt": "throttle",
    "pos": "position", "posn": "position", "bat": "battery", "batt": "battery", "volt": "voltage",
    "volts": "voltage", "man": "manifold", "mani": "manifold", "manif": "manifold", "pri": "primary",
    "cyl": "cylinder", "cylinders": "cylinder", "sw": "switch", "amb": "ambient", "long": "longitudinal",
    "lat": "lateral", "vert": "vertical", "gnd": "ground", "veh": "vehicle", "trans": "transmission",
    "tyre": "tire", "tyres": "tire", "tires": "tire", "lbd": "lambda", "lamda": "lambda", "revolutions": "revs",
    "calc": "calculated", "sat": "sats", "dty": "duty", "turb": "turbo", "atmos": "atmospheric", "drv": "driven",
    "undrv": "undriven", "shft": "shift", "lft": "left", "rgt": "right", "frt": "front", "fnt": "front",
    "bk": "back", "crk": "crank", "fl": "fl", "airtemp": "air temperature", "oiltemp": "oil temperature",
    "watertemp": "water temperature", "coolanttemp": "coolant temperature", "oilpress": "oil pressure",
    "fuelpress": "fuel pressure", "oilpressure": "oil pressure", "fuelpressure": "fuel pressure",
    "wheelspeed": "wheel speed", "drvshaft": "driveshaft", "drvshft": "driveshaft", "driveshft": "driveshaft",
    "dshft": "dshaft", "propshft": "propshaft", "outshft": "output shaft", "pr": "pressure", "abs": "absolute",
    "atm": "atmospheric", "enginespeed": "engine speed", "enginerpm": "engine rpm", "groundspeed": "ground speed",
    "gpsspeed": "gps speed", "boostpressure": "boost pressure", "injduty": "injector duty",
    "gearpos": "gear position", "throttlepos": "throttle position", "lf": "fl", "rf": "fr", "lr": "rl",
    "rel": "relative", "rev": "revs", "ref": "reference", "ic": "intercooler", "ind": "indicator", "det": "detonation",
    "knk": "knock", "atms": "atmospheric", "intk": "intake", "mnfld": "manifold", "mnfd": "manifold",
    "mfld": "manifold", "gr": "gear", "brk": "brake", "clu": "clutch", "lmb": "lambda",
}  # fmt: skip
"""In lower case; what stands for one may be several words."""
