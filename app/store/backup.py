"""Whole copies of a database by SQLite's backup API. It never copies the file: that can miss what is in the log."""

import os
import sqlite3
import tempfile
from collections.abc import Callable
from contextlib import closing, suppress
from pathlib import Path

from app.store.engine import is_full
from app.store.faults import NotSafe


def copy(source: sqlite3.Connection, target: Path, check: Callable[[Path], object] | None = None) -> Path:
    """Copy a database that may be in use into a new file, check it, and only then give it its name.

    Args:
        check: called with the finished copy before it gets its name; if it raises, the copy is removed.

    Returns:
        `target`: one file, mode 0600, on the disk, with no log beside it.

    Raises:
        FileExistsError: there is a file of that name already.
        NotSafe: the copy could not be made or is not sound; it is removed. OSError: the place can't be written.
    """
    return make(target, lambda partial: _filled(source, partial), check)


def make(target: Path, fill: Callable[[Path], str | None], check: Callable[[Path], object] | None = None) -> Path:
    """Make a new file by way of one beside it that only we know, and only give it its name when it is sound.

    Args:
        fill: writes the database into an empty file; returns what is wrong with it, or None.
        check: as for `copy`.

    Raises:
        FileExistsError, NotSafe, OSError: as for `copy`; and what `fill` raises.
    """
    if target.exists():
        raise FileExistsError(f"{target} is there already")
    partial = _new_beside(target)
    try:
        fault = fill(partial)
        if fault:
            raise NotSafe(f"The copy {target} could not be made: {fault}.")
        if check is not None:
            check(partial)
        _give_name(partial, target)
    finally:
        _remove(partial)
    return target


LEFT_AFTER_S = 3600
"""A copy that nobody has written to for so long is none that is being made. Our own bound, no source."""
_ENDS = ("", "-journal", "-wal", "-shm")


def clear_left(folder: Path, names: str, now_s: float) -> None:
    """Remove what copies that were killed have left in a folder: each is as large as the database.

    Args:
        names: what the copies were to be called, as a pattern of glob.
    """
    for left in folder.glob(f"{names}.????????.partial"):
        with suppress(OSError):
            if now_s - left.stat().st_mtime > LEFT_AFTER_S:
                _remove(left)


def _remove(partial: Path) -> None:
    for end in _ENDS:
        partial.with_name(partial.name + end).unlink(missing_ok=True)


def _new_beside(target: Path) -> Path:
    """An empty file that only we know, mode 0600: two copies at once must not write into one."""
    opened, name = tempfile.mkstemp(prefix=f"{target.name}.", suffix=".partial", dir=target.parent)
    os.close(opened)
    return Path(name)


def _filled(source: sqlite3.Connection, partial: Path) -> str | None:
    try:
        with closing(sqlite3.connect(partial, isolation_level=None)) as copied:
            source.backup(copied)
            copied.execute("PRAGMA journal_mode=DELETE")
            return fault_of(copied)
    except sqlite3.Error as error:
        return "there is no room on that disk. Make room on it, then try again" if is_full(error) else str(error)


def _give_name(partial: Path, target: Path) -> None:
    """Name the file without ever replacing one that came meanwhile, and have the name on the disk too."""
    try:
        target.hardlink_to(partial)
    except FileExistsError:
        raise FileExistsError(f"{target} is there already") from None
    except OSError:
        # Some file systems, those of memory sticks among them, know no second name.
        if target.exists():
            raise FileExistsError(f"{target} is there already") from None
        partial.rename(target)
    folder_to_disk(target.parent)


def folder_to_disk(folder: Path) -> None:
    """Have the names in a folder on the disk. Where that can't be asked for, the system does it in its own time."""
    with suppress(OSError):
        opened = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        try:
            os.fsync(opened)
        finally:
            os.close(opened)


def fault_of(connection: sqlite3.Connection) -> str | None:
    """What `PRAGMA integrity_check` finds wrong first; None if nothing."""
    found = str(connection.execute("PRAGMA integrity_check").fetchone()[0])
    return None if found == "ok" else found
