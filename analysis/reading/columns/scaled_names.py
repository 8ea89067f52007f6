"""Columns whose name ends in a factor, "Coolant x10", "RPM*0.25": read where the values allow one way only.

Public: `scaled_columns`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from passband.analysis.channels.catalogue import family_of
from passband.analysis.channels.recognition import recognise_name
from passband.analysis.channels.word_forms import part_scale
from passband.analysis.quantities import FloatArray
from passband.analysis.reading.columns.plausibility import understand_as
from passband.analysis.reading.columns.understood import Columns, Understood
from passband.analysis.reading.columns.unit_of_a_kind import NINETY_NINE, ONE_PERCENT, USUAL
from passband.analysis.reading.text.header import Header
from passband.analysis.reading.text.name_and_unit import split_name_and_unit
from passband.analysis.results.findings import Finding

USUAL_TOO: dict[str, tuple[float, float, float, float]] = {
    "engine_speed": (0.0, 6000.0, 2500.0, 15000.0),
    "throttle": (-0.05, 0.5, 0.6, 1.1),
    "lambda": (0.4, 1.3, 0.7, 2.5),
    "battery": (6.0, 15.0, 10.0, 18.0),
    **dict.fromkeys(
        ("ground_speed", "gps_speed", *(f"wheel_speed_{at}" for at in ("driven", "fl", "fr", "rl", "rr"))),
        (0.0, 15.0, 15.0, 140.0),
    ),
}
"""As `USUAL` for quantities whose unit nothing but a name tells. Common practice, no source."""
FACTOR_TAKEN = 0.8
"""What is left of the confidence where a factor had to be taken from the values. [-]"""


def scaled_columns(columns: Columns) -> Columns:
    """Read columns that no name tells, but one with a factor behind it.

    Parameters
    ----------
    columns : Columns
        Each column on its own.

    Returns
    -------
    Columns
        The same. "x10" may say that tenths are written or that ten times the value is meant; a column is read where
        one of these, or the values as they stand, is usual for its channel and no other. Otherwise it is told.
    """
    return columns.with_read(
        {
            at: _scaled(column, columns.header, at, columns.samples[at])
            for at, column in columns.understood.items()
            if column.confidence == 0.0 and at not in columns.given and not column.findings
        }
    )


def _scaled(column: Understood, header: Header, at: int, values: FloatArray) -> Understood:
    parted = part_scale(header.bare[at])
    if parted is None or not values.size:
        return column
    name, unit = split_name_and_unit(parted[0])
    unit, scale = header.units[at] or unit, parted[1]
    for match in recognise_name(name):
        tried = {
            factor: trial
            for factor in (1.0, scale, 1.0 / scale)
            if (trial := understand_as(match, header.names[at], unit, factor * values)) is not None
            and _is_usual(trial, factor * values)
        }
        # tenths of a per cent are thousandths of the whole: one way, named twice
        ways = {round(factor * trial.conversion.scale, 12) for factor, trial in tried.items()}
        if len(ways) == 1:
            return _read_by(*list(tried.items())[-1], header.names[at])
        if family_of(match.channel) in USUAL | USUAL_TOO:
            return replace(column, findings=(_unclear(header.names[at], match.channel, len(tried)),))
    return column


def _is_usual(trial: Understood, values: FloatArray) -> bool:
    usual = (USUAL | USUAL_TOO).get(family_of(trial.channel))
    if usual is None or any(finding.code == "unit-doubted" for finding in trial.findings):
        return False
    least, most = (float(edge) for edge in np.quantile(values, [ONE_PERCENT, NINETY_NINE]))
    low, high = (edge * trial.conversion.scale + trial.conversion.offset for edge in (least, most))
    return usual[0] <= low <= usual[1] and usual[2] <= high <= usual[3]


def _read_by(factor: float, trial: Understood, header: str) -> Understood:
    conversion = replace(trial.conversion, scale=factor * trial.conversion.scale)
    text = f"{header} is read as its values times {factor:g}: taken otherwise, no engine would show them."
    found = (*trial.findings, Finding("scale-in-name", "note", text, header))
    return replace(trial, conversion=conversion, confidence=round(FACTOR_TAKEN * trial.confidence, 3), findings=found)


def _unclear(header: str, channel: str, fitting: int) -> Finding:
    why = "its values are usual in more than one way of taking it" if fitting else "its values are usual in no way"
    text = (
        f"{header} names {family_of(channel).replace('_', ' ')} and a factor, and {why}. It stays under its own "
        "header; log it without a factor, or in a unit that says it."
    )
    return Finding("scale-unclear", "caution", text, header)
