"""Whole copies of a database by SQLite's backup API. It never copies the file: that can miss what is in the log."""

import sqlite3
from contextlib import closing
from pathlib import Path

from app.store.faults import NotSafe
from app.store.place import make_private


def copy(source: sqlite3.Connection, target: Path) -> Path:
    """Copy a database that may be in use into a new file, check it, and only then give it its name.

    Returns:
        `target`: one file, mode 0600, with no log beside it.

    Raises:
        FileExistsError: there is a file of that name already.
        NotSafe: the copy could not be made or is not sound; it is removed.
    """
    if target.exists():
        raise FileExistsError(f"{target} is there already")
    partial = target.with_name(f"{target.name}.partial")
    partial.unlink(missing_ok=True)
    make_private(partial)
    try:
        fault = _fill(source, partial)
    except sqlite3.Error as error:
        fault = str(error)
    if fault:
        partial.unlink(missing_ok=True)
        raise NotSafe(f"The copy {target} could not be made: {fault}")
    partial.rename(target)
    return target


def _fill(source: sqlite3.Connection, partial: Path) -> str | None:
    with closing(sqlite3.connect(partial, isolation_level=None)) as copied:
        source.backup(copied)
        copied.execute("PRAGMA journal_mode=DELETE")
        return fault_of(copied)


def fault_of(connection: sqlite3.Connection) -> str | None:
    """What `PRAGMA integrity_check` finds wrong first; None if nothing."""
    found = str(connection.execute("PRAGMA integrity_check").fetchone()[0])
    return None if found == "ok" else found
