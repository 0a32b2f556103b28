"""Who owns a data directory: one server, by a lock that the operating system drops with the process.

It must not be asked to share. The lock file stays when it is released: removing it would let two servers each lock a
file of the same name.
"""

import fcntl
import json
import os
import time
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from app.core.times import instant
from app.store.faults import DataInUse
from app.store.place import FILE_MODE

LOCK_NAME = "leadline.lock"

_READ_FOR_S = 0.5
"""The other server may be between taking the lock and writing its name: look again for this long."""


class Owner:
    """The lock on a data directory, held until `release` or the end of the process.

    A child made by `fork` without `exec` shares the lock.
    """

    def __init__(self, data_dir: Path, address: str, started: datetime) -> None:
        """Take the lock and write pid, address and start time into the file.

        Raises:
            DataInUse: within a second, and says who has it.
        """
        self._file = os.open(data_dir / LOCK_NAME, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, FILE_MODE)
        # The folder itself is locked too: then it helps nobody to remove the file.
        self._folder = os.open(data_dir, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        try:
            for each in (self._file, self._folder):
                fcntl.flock(each, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            words = _who(self._file)
            self._close()
            raise DataInUse(
                f"{data_dir} is in use by {words}. Stop that one first, or choose another data directory."
            ) from None
        os.fchmod(self._file, FILE_MODE)
        self._say({"pid": os.getpid(), "address": address, "started": instant(started)})

    def _say(self, who: dict[str, str | int]) -> None:
        os.ftruncate(self._file, 0)
        os.pwrite(self._file, json.dumps(who).encode(), 0)

    def release(self) -> None:
        """Give the directory up. A second call does nothing."""
        if self._file >= 0:
            os.ftruncate(self._file, 0)
            self._close()

    def _close(self) -> None:
        os.close(self._folder)
        os.close(self._file)
        self._file = -1

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _error: BaseException | None, _: TracebackType | None
    ) -> None:
        self.release()


def _who(file: int) -> str:
    """The holder in words, as far as its lock file tells."""
    until = time.monotonic() + _READ_FOR_S
    while time.monotonic() < until:
        try:
            said = json.loads(os.pread(file, 4096, 0))
            at = f" at {said['address']}" if said["address"] else ""
            return f"another Leadline (process {said['pid']}{at}, started {said['started']})"
        except (ValueError, KeyError, TypeError):
            time.sleep(0.05)
    return "another Leadline that has not yet said who it is"
