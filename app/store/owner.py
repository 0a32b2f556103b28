"""Who owns a data directory and its database: one server, by locks that the operating system drops with the process.

It must not be asked to share. The lock file stays when it is released: removing it would let two servers each lock a
file of the same name.
"""

import fcntl
import json
import os
import sys
import time
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from app.core.times import instant
from app.store.engine import FILE_NAME
from app.store.faults import DataInUse
from app.store.place import FILE_MODE

LOCK_NAME = "leadline.lock"

_READ_FOR_S = 0.5
"""The other server may be between taking the lock and writing its name: look again for this long."""


class Owner:
    """The locks on a data directory and its database, held until `release` or the end of the process.

    The database is locked as well where it may be: another directory may have a link to it. SQLite's own locks are of
    another kind (fcntl(2), POSIX), which on Linux has nothing to do with flock(2); but they are dropped when this
    process closes any descriptor of the file, so ours is opened before SQLite's and closed after them.

    A child made by `fork` without `exec` shares the lock.
    """

    def __init__(self, data_dir: Path, address: str, started: datetime) -> None:
        """Take the lock and write pid, address and start time into the file.

        Raises:
            DataInUse: within a second, and says who has it. OSError: the file can't be written; it is named.
        """
        self._file = os.open(data_dir / LOCK_NAME, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, FILE_MODE)
        # The folder itself is locked too: then it helps nobody to remove the file.
        self._held = [os.open(data_dir, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)]
        database = (data_dir / FILE_NAME).resolve()
        if sys.platform == "linux" and database.exists():
            self._held.append(os.open(database, os.O_RDONLY | os.O_CLOEXEC))
        try:
            for each in (self._file, *self._held):
                fcntl.flock(each, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            self._close()
            raise _in_use(data_dir) from None
        try:
            os.fchmod(self._file, FILE_MODE)
            self._say({"pid": os.getpid(), "address": address, "started": instant(started)})
        except OSError as error:
            self._close()
            raise OSError(error.errno, os.strerror(error.errno or 0), str(data_dir / LOCK_NAME)) from error

    def _say(self, who: dict[str, str | int]) -> None:
        os.ftruncate(self._file, 0)
        os.pwrite(self._file, json.dumps(who).encode(), 0)

    def release(self) -> None:
        """Give the directory up. A second call does nothing."""
        if self._file >= 0:
            os.ftruncate(self._file, 0)
            self._close()

    def _close(self) -> None:
        for each in self._held:
            os.close(each)
        os.close(self._file)
        self._file = -1

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _error: BaseException | None, _: TracebackType | None
    ) -> None:
        self.release()


def refuse_owned(data_dir: Path) -> None:
    """The refusal that `Owner` would give, before all that a server stands on is loaded. It writes nothing.

    Whoever passes may still find that another has come meanwhile: only `Owner` holds the folder.

    Raises:
        DataInUse: as `Owner` raises it.
    """
    try:
        folder = data_dir.expanduser().resolve()
        lock = folder / LOCK_NAME
        if not lock.stat().st_size:
            return  # Given up in order, never had, or no file: to open a pipe would wait for ever.
        file = os.open(lock, os.O_RDONLY | os.O_CLOEXEC)
    except (OSError, RuntimeError):
        return  # `Owner` says what is wrong with it.
    try:
        # Shared, and for a moment: of several that look at once none refuses another for it. `Owner` would refuse one
        # that starts in that very moment; whoever looks is then the next to start, so one of them serves.
        fcntl.flock(file, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        raise _in_use(folder) from None
    finally:
        os.close(file)


def _in_use(data_dir: Path) -> DataInUse:
    words = _who(data_dir / LOCK_NAME, (data_dir / FILE_NAME).resolve().with_name(LOCK_NAME))
    return DataInUse(f"{data_dir} is in use by {words}. Stop that one first, or choose another data directory.")


def _who(*files: Path) -> str:
    """The holder in words, as far as one of these lock files tells."""
    until = time.monotonic() + _READ_FOR_S
    while time.monotonic() < until:
        for file in files:
            with suppress(OSError, ValueError, KeyError, TypeError):
                said = json.loads(file.read_bytes()[:4096])
                at = f" at {said['address']}" if said["address"] else ""
                return f"another Leadline (process {said['pid']}{at}, started {said['started']})"
        time.sleep(0.05)
    return "another Leadline that has not yet said who it is, or one that only looks at it and is soon done"
