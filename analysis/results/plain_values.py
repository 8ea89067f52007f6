"""What JSON can say, as types: for what a user wrote, what is stored, and what goes out as it is.

What is read of it for a page or a print is a dataclass; these stand only where a thing is JSON by its nature.

Public: `Plain`, `JsonObject`, `Stored`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeAlias

Plain = dict[str, "Plain"] | list["Plain"] | str | int | float | bool | None
"""Any value that JSON can say."""
JsonObject: TypeAlias = dict[str, Any]
"""An object of JSON: a car, slip or air as its owner wrote it, a task, a record, an answer on its way out."""
Stored: TypeAlias = Mapping[str, Any]
"""The same where it is only read."""
