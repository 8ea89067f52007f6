"""A car's parts and the sheets kept with it, as pages are given them.

Public: `PartTold`, `PartOfCar`, `SheetOfCar`, `SHEETS`.
"""

from __future__ import annotations

from dataclasses import dataclass

from passband.analysis.runs.used_up import UsedUp

SHEETS = {
    "flow_sheet": "Flow sheet",
    "flow_sheet_before": "Flow sheet before the change",
    "dynamometer": "Dynamometer's curve",
    "dynamometer_before": "Dynamometer's curve before the change",
    "compressor_map": "Compressor's map",
}
"""What a car keeps beside its parts, and what it is called."""


@dataclass(frozen=True, slots=True)
class PartTold:
    """A part as its owner told it."""

    name: str
    """As given."""
    kind: str
    """As given; may be empty."""
    fitted_from: str
    """Day, or date and time; empty where not given."""
    fitted_to: str
    """Likewise."""
    first_run: str
    """Id of the first run that it was in; empty where not given."""
    last_run: str
    """Of the last."""
    above_rpm: tuple[float, ...]
    """Engine speeds above which time is counted. [rpm]"""
    notes: str
    """The crew's own words; may be empty."""


@dataclass(frozen=True, slots=True)
class PartOfCar:
    """A part of a car and what it has seen."""

    id: str
    """Its id."""
    told: PartTold
    """As given."""
    used_up: UsedUp
    """What it has seen."""


@dataclass(frozen=True, slots=True)
class SheetOfCar:
    """A bench sheet or a map that is kept with a car."""

    what: str
    """A key of `SHEETS`."""
    name: str
    """Of its file."""
    made_at: str
    """When it was kept, ISO 8601, UTC."""

    @property
    def title(self) -> str:
        """What it is."""
        return SHEETS[self.what]

    @property
    def day(self) -> str:
        """When it was kept."""
        return self.made_at[:10]
