"""What a user says of a run, on uploading it and later.

Public: `UploadDetails`, `SortDetails`, `RunChanges`, `PassAsked`, `ColumnAnswer`, `ColumnAnswers`,
`BenchSheets`, `GivenSoFar`, `title`.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StrictBool

from passband.analysis.results.plain_values import JsonObject


def title(label: str, event: str, round: str, log_names: Sequence[str]) -> str:
    """What pages call a run: the user's label, else event and round, else the first log's name."""
    return label or (", ".join(filter(None, (event, round))) if round else str(log_names[0]))


FinishFt = Literal[660, 1000, 1320]


def _when(text: str) -> str:
    try:
        kind = datetime if "T" in text or " " in text.strip() else date
        return kind.fromisoformat(text.strip()).isoformat()
    except ValueError:
        if not text.strip():
            return ""
        raise ValueError("must be a date, or date and time, such as 2031-05-04 or 2031-05-04T14:30") from None


When = Annotated[str, Field(max_length=40), AfterValidator(_when)]
"""Date, or date and time, ISO 8601; empty where not given."""


class UploadDetails(BaseModel):
    """What may be said of a run when it is uploaded; a list of slips gives each run of the logs its own."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    label: str = Field("", max_length=200)
    event: str = Field("", max_length=200)
    round: str = Field("", max_length=200)
    notes: str = Field("", max_length=20_000)
    slip: JsonObject | list[JsonObject] | None = None
    air: JsonObject | None = None
    finish_ft: FinishFt = 1320
    at: When | None = None
    """When it was made; None where it was not asked for, and the logs may tell."""

    @property
    def slips(self) -> list[JsonObject]:
        """One for each run that has one, in order."""
        return self.slip if isinstance(self.slip, list) else [self.slip] if self.slip else []


class SortDetails(BaseModel):
    """What is known of files that are to be sorted into runs; each list in the files' order."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    whole: list[StrictBool] = Field(default_factory=list, max_length=64)
    saved_s: list[Annotated[float, Field(strict=True)] | None] = Field(default_factory=list, max_length=64)


class RunChanges(BaseModel):
    """What may be changed of a run; what is not named stays as it is. `car` null reviews without a car.

    `was` tells, by the same keys, what the sender saw: where something else stands by now the change is refused.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    label: str = Field("", max_length=200)
    event: str = Field("", max_length=200)
    round: str = Field("", max_length=200)
    notes: str = Field("", max_length=20_000)
    slip: JsonObject | None = None
    air: JsonObject | None = None
    finish_ft: FinishFt = 1320
    at: When = ""
    car: str | None = None
    was: JsonObject = Field(default_factory=dict)

    @property
    def told(self) -> JsonObject:
        """What is new, by its keys."""
        return self.model_dump(exclude_unset=True, exclude={"was"})


class PassAsked(BaseModel):
    """Which stored runs to review again: of an event, of a car by its name or id; all where neither is given."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    event: str | None = Field(None, max_length=200)
    car: str | None = Field(None, max_length=200)


Sheet = Annotated[str, Field(max_length=200_000)]
"""A table as text, as a file of it holds it."""


class ColumnAnswer(BaseModel):
    """What one column of a layout is; `channel` null takes back what was answered before."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    layout: str = Field(min_length=1, max_length=64)
    column: str = Field(max_length=2_000)
    channel: str | None = Field(max_length=200)
    unit: str = Field("", max_length=40)


class ColumnAnswers(BaseModel):
    """Answers about the columns of a run's logs, kept with its car.

    For a run that names none: `car` says which one it is, `new_car` the name of one that is made for it.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    answers: list[ColumnAnswer] = Field(default_factory=list, max_length=2_000)
    car: str | None = None
    new_car: str = Field("", max_length=200)


class BenchSheets(BaseModel):
    """What a bench and a turbo's maker say, to be laid beside a run; what is not given is as it is kept of the car."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    flow_sheet: Sheet = ""
    flow_sheet_before: Sheet = ""
    dynamometer: Sheet = ""
    dynamometer_before: Sheet = ""
    compressor_map: Sheet = ""
    compressors: int = Field(1, ge=1, le=4)
    volumetric_efficiency: str = Field("", max_length=100)
    inlet_loss: str = Field("0 kPa", max_length=100)
    charge_loss: str = Field("0 kPa", max_length=100)


class GivenSoFar(BaseModel):
    """What a form holds, to be told back; each part perhaps not whole. `beside_units` true: written beside units.

    `whatif` holds a change to a run as written, `turbo` what is said of how a turbo is installed.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    car: JsonObject | None = None
    slip: JsonObject | None = None
    air: JsonObject | None = None
    whatif: JsonObject | None = None
    turbo: JsonObject | None = None
    beside_units: StrictBool = False
