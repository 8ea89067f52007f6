"""What can be set from outside: one table of limits and places, read from the environment before anything starts.

Public: `Settings`, `Setting`, `SettingsError`, `SETTINGS`, `read_settings`.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

PREFIX = "PASSBAND_"
"""Every variable of ours starts with it."""


class SettingsError(ValueError):
    """A setting that cannot be used; its text says which, why, and what would do."""


@dataclass(frozen=True, slots=True)
class Setting:
    """One line of the table."""

    name: str
    """Field of `Settings`; the variable is ``PASSBAND_`` and this in capitals."""
    default: int | str
    """Used where the variable is not set; its type is the type."""
    text: str
    """What it does, one sentence."""
    least: int = 0
    """Smallest number allowed."""
    greatest: int = 0
    """Largest number allowed."""

    @property
    def variable(self) -> str:
        """Name of the environment variable."""
        return PREFIX + self.name.upper()


MIB = 1024 * 1024

SETTINGS: tuple[Setting, ...] = (
    Setting("data", "passband-data", "Folder that holds everything the service keeps."),
    Setting(
        "hosts",
        "",
        "Host names, parted by commas, under which the service answers besides this machine's own names and addresses.",
    ),
    Setting("file_bytes", 128 * MIB, "Largest log file taken, in bytes.", 1024, 4096 * MIB),
    Setting("upload_bytes", 256 * MIB, "Largest upload taken, all its files together, in bytes.", 1024, 8192 * MIB),
    Setting("files", 8, "Most log files in one upload.", 1, 64),
    Setting("json_bytes", 256 * 1024, "Largest car or details taken, in bytes.", 1024, 16 * MIB),
    Setting(
        "stall_seconds",
        30,
        "A client that has not ended its question, or moves less than a kibibyte a second, over this long is ended.",
        1,
        3600,
    ),
    Setting("connections", 512, "Most connections at once; beyond them the one idle longest makes room.", 16, 10_000),
    Setting(
        "workers",
        2,
        "Processes that compute reviews; 0 computes them within the server, where neither time nor memory is limited.",
        0,
        64,
    ),
    Setting("review_seconds", 120, "A review that takes longer is given up.", 1, 3600),
    Setting(
        "review_bytes",
        4096 * MIB,
        "Most memory of a process that computes reviews, in bytes beyond the program's own; held on Linux only.",
        256 * MIB,
        1024 * 1024 * MIB,
    ),
    Setting("points", 20_000, "Most points a trace may be asked for.", 100, 1_000_000),
    Setting("channels", 64, "Most channels in one question.", 3, 1000),
    Setting("side_by_side", 12, "Most runs laid over each other.", 2, 100),
    Setting("trash_days", 30, "Days after which the trash lets go of what lies in it; 0 keeps it for ever.", 0, 36_500),
    Setting(
        "reserve_bytes",
        4 * MIB,
        "Room set aside in the folder so that deleting works on a full disk, in bytes; 0 for none.",
        0,
        1024 * MIB,
    ),
    Setting("page_runs", 200, "Most runs in one answer of a list.", 1, 1000),
)


@dataclass(frozen=True, slots=True)
class Settings:
    """The settings in force; each is explained in `SETTINGS`."""

    data: Path
    hosts: tuple[str, ...]
    file_bytes: int
    upload_bytes: int
    files: int
    json_bytes: int
    stall_seconds: int
    connections: int
    workers: int
    review_seconds: int
    review_bytes: int
    points: int
    channels: int
    side_by_side: int
    trash_days: int
    reserve_bytes: int
    page_runs: int


def read_settings(environment: Mapping[str, str] = os.environ, **given: object) -> Settings:
    """The settings from the environment, with some given outright.

    Parameters
    ----------
    environment : mapping of str to str
        Variables; those that do not start with ``PASSBAND_`` are passed over.
    **given
        Fields that win over the environment, e.g. ``data=Path("/srv/passband")``.

    Returns
    -------
    Settings
        Complete and checked.

    Raises
    ------
    SettingsError
        Naming every variable that is unknown or out of range.

    Examples
    --------
    >>> read_settings({"PASSBAND_FILES": "3"}).files
    3
    """
    known = {setting.variable for setting in SETTINGS}
    wrong = [
        f"{name} is no setting; the settings are {', '.join(sorted(known))}"
        for name in sorted(environment)
        if name.startswith(PREFIX) and name not in known
    ]
    values: dict[str, Any] = {}
    for setting in SETTINGS:
        written = given.get(setting.name, environment.get(setting.variable, setting.default))
        try:
            values[setting.name] = _checked(setting, written)
        except SettingsError as error:
            wrong.append(str(error))
    if wrong:
        raise SettingsError("; ".join(wrong))
    return Settings(**values)


def _checked(setting: Setting, written: object) -> object:
    if setting.name == "data":
        if not str(written).strip():
            raise SettingsError(f"{setting.variable} must name a folder")
        return Path(str(written)).expanduser()
    if setting.name == "hosts":
        names = written if isinstance(written, (tuple, list)) else str(written).split(",")
        return tuple(str(name).strip().lower() for name in names if str(name).strip())
    try:
        number = int(str(written))
    except ValueError:
        raise SettingsError(f"{setting.variable} must be a whole number, got {written!r}") from None
    if not setting.least <= number <= setting.greatest:
        raise SettingsError(f"{setting.variable} must lie from {setting.least} to {setting.greatest}, got {number}")
    return number
