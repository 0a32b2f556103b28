"""A small disk that can be filled: a tmpfs in a mount namespace of its own, gone with its holder.

Nothing is mounted where the rest of the machine would see it. Where namespaces are forbidden, `why_not` says so.
"""

import os
import shutil
import subprocess
from pathlib import Path
from types import TracebackType
from typing import Self


class NoSmallDisk(Exception):
    """``str()`` says why none can be had here."""


class SmallDisk:
    """A process that holds the mount. `inside` is where a process within sees it, `outside` where we do."""

    def __init__(self, at: Path, kilobytes: int = 1024) -> None:
        """`at`: an empty folder, which becomes the disk. Raises NoSmallDisk."""
        if shutil.which("unshare") is None or shutil.which("nsenter") is None:
            raise NoSmallDisk("There is no unshare(1) on this machine.")
        self._root = os.geteuid() == 0
        mount = f"mount -t tmpfs -o size={kilobytes}k,mode=777 tmpfs '{at}' && echo mounted && exec cat"
        words = ["unshare", *([] if self._root else ["--map-root-user"]), "--mount", "sh", "-c", mount]
        self._holder = subprocess.Popen(
            words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        assert self._holder.stdout is not None
        if self._holder.stdout.readline().strip() != "mounted":
            _, said = self._holder.communicate()
            raise NoSmallDisk(f"No file system may be mounted here: {said.strip()[:200]}")
        self.inside = at
        self.outside = Path(f"/proc/{self._holder.pid}/root{at}")

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _error: BaseException | None, _: TracebackType | None
    ) -> None:
        self._holder.communicate()

    @property
    def around(self) -> list[str]:
        """The words before a command that is to see the disk."""
        user = [] if self._root else ["--user", "--preserve-credentials"]
        return ["nsenter", "--target", str(self._holder.pid), "--mount", *user]

    def free_kb(self) -> int:
        found = os.statvfs(self.outside)
        return found.f_bfree * found.f_frsize // 1024

    def fill(self, but_kb: int = 0) -> None:
        """Put a ballast on it that leaves so much."""
        with (self.outside / "ballast").open("ab", buffering=0) as ballast:
            while (left := self.free_kb() - but_kb) > 0:
                ballast.write(bytes(min(left, 64) * 1024))

    def make_room(self) -> None:
        (self.outside / "ballast").unlink()

    def make_read_only(self) -> None:
        remount = ["mount", "-o", "remount,ro", str(self.inside)]
        subprocess.run([*self.around, *remount], check=True, capture_output=True)
