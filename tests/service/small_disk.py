"""A real file system of a few MB that only processes of ours see, gone with the process that holds it.

Public: `SmallDisk`, `can_mount`.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

MOUNTED = "mounted"


def can_mount() -> bool:
    """Whether this machine lets us mount in a space of our own."""
    if shutil.which("unshare") is None or shutil.which("nsenter") is None or os.geteuid() != 0:
        return False
    tried = subprocess.run(
        ["unshare", "--mount", "mount", "-t", "tmpfs", "-o", "size=1m", "tried", "/mnt"],
        capture_output=True,
        check=False,
    )
    return tried.returncode == 0


class SmallDisk:
    """A mounted file system in a mount namespace of its own.

    Parameters
    ----------
    folder : Path
        Where it is mounted, for processes started with `enter`; to all others the folder stays empty.
    kind : str
        ``tmpfs``, or ``ext4`` in a file beside the folder.
    megabytes : int
        Its size.

    Notes
    -----
    Held by a process that waits for its input to end: even if we are killed, the mount goes with it.
    """

    def __init__(self, folder: Path, *, kind: str, megabytes: int) -> None:
        folder.mkdir()
        options = ["-t", "tmpfs", "-o", f"size={megabytes}m", "small"]
        if kind == "ext4":
            image = folder.with_name(f"{folder.name}.img")
            with image.open("wb") as file:
                file.truncate(megabytes * 1024 * 1024)
            subprocess.run(["mkfs.ext4", "-q", "-m", "0", str(image)], check=True)
            options = ["-t", "ext4", "-o", "loop", str(image)]
        script = f'mount "$@" && echo {MOUNTED} && exec cat'
        self._holder = subprocess.Popen(
            ["unshare", "--mount", "sh", "-c", script, "sh", *options, str(folder)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        assert self._holder.stdout is not None and self._holder.stdout.readline().strip() == MOUNTED
        self.enter = ("nsenter", f"--mount=/proc/{self._holder.pid}/ns/mnt")
        self.seen = Path(f"/proc/{self._holder.pid}/root{folder.resolve()}")
        """The same folder as we may look at it from outside."""

    def free_bytes(self) -> int:
        """What is left."""
        facts = os.statvfs(self.seen)
        return facts.f_bavail * facts.f_frsize

    def fill(self) -> None:
        """Leave not a byte."""
        with (self.seen / "filler").open("ab", buffering=0) as file:
            size = 1024 * 1024
            while size:
                try:
                    file.write(bytes(size))
                    os.fsync(file.fileno())
                except OSError:
                    size //= 2

    def make_room(self) -> None:
        """Take away what filled it."""
        (self.seen / "filler").unlink()

    def close(self) -> None:
        """Unmount, by ending the process that holds it."""
        self._holder.communicate()
