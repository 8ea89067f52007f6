"""Power where nothing shows what lies between engine and wheels: that to the ground stands, the flywheel's does not.

Public: `without_flywheel`.
"""

from __future__ import annotations

from dataclasses import replace

from passband.analysis.results.findings import Finding
from passband.analysis.results.power import Power
from passband.analysis.results.unknown import Unknown


def without_flywheel(power: Power) -> Power:
    """The same power with nothing said of the engine.

    Parameters
    ----------
    power : Power
        Of a run whose ratio glides: how far a clutch or belt slips, and what it turns to heat, shows nowhere.

    Returns
    -------
    Power
        Power and work to the ground as they were, and what trap speed implies.
    """
    text = (
        "The drive has no fixed ratio, as a belt's: how far clutch and belt slip shows nowhere, so power at the "
        "flywheel is not known. Power to the ground does not rest on it and stands."
    )
    why = Unknown(Finding("flywheel-power-not-known", "caution", text))
    return replace(
        power, average_w=why, average_pulling_w=why, average_over_distance_w=why, peak_w=why, corrected_average_w=why,
        correction_factor=why, correction_rule=None, shares=(), curves=(), bmep_pa=why, clutch_heat_j=why,
    )  # fmt: skip
