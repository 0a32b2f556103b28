"""A look at a database that a server may be using: read-only, at one moment of it. It takes no lock and mends nothing.

It never writes and never makes a checkpoint: that is the server's own writer's alone.
"""

import sqlite3
import stat
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError

from app.store.engine import is_held, looking_engine
from app.store.faults import Damaged, ForeignDatabase, NoDatabase, StoreFailed, StoreFault, printable
from app.store.migrate import stands_at
from app.store.verifying import UNREADABLE, inner_words


@contextmanager
def look(file: Path, migrations_dir: Path) -> Iterator[Connection]:
    """A connection that sees one moment of the database in `file`, for as long as it is used.

    Raises:
        NoDatabase: there is no such file, or there is nothing in it. Damaged: it can't be read as a database.
        ForeignDatabase: it is from a newer Leadline, or not of Leadline.
        StoreFailed: somebody holds it. OSError: it may not be read.
    """
    _be_a_file(file)
    with ExitStack() as open_until:
        try:
            connection = open_until.enter_context(looking_engine(file).connect())
            connection.begin()
            stands = stands_at(connection, migrations_dir)
        except ForeignDatabase as fault:
            raise ForeignDatabase(f"{file}: {fault}") from None
        except UNREADABLE as error:
            raise _in_words(file, error) from error
        if stands is None:
            raise NoDatabase(f"{file} is a database in which nothing was ever stored.")
        yield connection


def _be_a_file(file: Path) -> None:
    try:
        about = file.stat()
    except (FileNotFoundError, NotADirectoryError):
        raise NoDatabase(f"There is no database {file}.") from None
    if not stat.S_ISREG(about.st_mode):
        raise NoDatabase(f"{file} is not a file; name a database.")
    if about.st_size == 0:
        raise NoDatabase(f"{file} is empty: nothing was ever stored in it, or all that was is lost.")
    with file.open("rb"):
        # The system says better than SQLite why a file may not be read.
        pass


def _in_words(file: Path, error: BaseException) -> StoreFault:
    said = printable(inner_words(error))
    if is_held(error):
        return StoreFailed(f"Another program holds {file} ({said}). Try again.")
    code = getattr(getattr(error, "orig", error), "sqlite_errorcode", None)
    if isinstance(error, (DBAPIError, sqlite3.Error)) and code == sqlite3.SQLITE_CANTOPEN:
        return Damaged(f"{file} could not be opened ({said}).")
    return Damaged(f"{file} can't be read as a database ({said}): it is damaged, or never was one.")
