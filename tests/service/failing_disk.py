"""A disk whose n-th write, sync, rename, new folder or new file fails, for a server and all its processes.

Public: `FailingDisk`, `can_compile`, `KINDS`.
"""

from __future__ import annotations

import mmap
import shutil
import struct
import subprocess
from pathlib import Path

SOURCE = Path(__file__).with_suffix(".c")
KINDS = {"write": 1, "fsync": 2, "rename": 4, "mkdir": 8, "create": 16, "any": 63}
"""Numbers as the C source has them; `any` counts all of them together."""
NUMBERS = struct.Struct("5i")
FOLDER_BYTES = 4096


def can_compile() -> bool:
    """Whether there is a C compiler."""
    return shutil.which("cc") is not None


class FailingDisk:
    """What stands between a process and its disk.

    Parameters
    ----------
    made : Path
        A folder for what is compiled.
    folder : Path
        Only what lies under it fails.
    """

    def __init__(self, made: Path, folder: Path) -> None:
        library, control = made / "failing_disk.so", made / "control"
        subprocess.run(["cc", "-shared", "-fPIC", "-O1", "-o", str(library), str(SOURCE), "-ldl"], check=True)
        control.write_bytes(NUMBERS.pack(0, 0, 0, 0, 0) + str(folder).encode().ljust(FOLDER_BYTES, b"\0"))
        with control.open("r+b") as file:
            self._control = mmap.mmap(file.fileno(), 0)
        self.environment = {"LD_PRELOAD": str(library), "FAILING_DISK": str(control)}

    def fail(self, kind: str, at: int, error: int, *, for_good: bool) -> None:
        """Let the `at`-th call from now fail, and if `for_good` all of its kind after it."""
        NUMBERS.pack_into(self._control, 0, KINDS[kind], at, error, int(for_good), 0)

    def heal(self) -> int:
        """Let all pass again; how many calls were counted."""
        count: int = NUMBERS.unpack_from(self._control, 0)[-1]
        NUMBERS.pack_into(self._control, 0, 0, 0, 0, 0, 0)
        return count
