"""What spoils logs: each function changes recordings in place and returns what the truth should add.

Public: `SPOIL`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from demo_logs.loggers import Recording
from demo_logs.truth import Drive

Spoiler = Callable[[dict[str, Recording], Drive, np.random.Generator], dict[str, Any] | None]

SPOIL: dict[str, Spoiler] = {}
