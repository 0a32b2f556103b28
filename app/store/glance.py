"""A look at a database that a server may be using: read-only, at one moment of it. It holds up nobody, mends nothing.

It never writes and never makes a checkpoint: that is the server's own writer's alone. Only where nothing can be written
beside the database can no server begin meanwhile; see `lying`.
"""

import sqlite3
import stat
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DBAPIError

from app.store.engine import is_beside, is_held, looking_engine
from app.store.faults import Damaged, ForeignDatabase, NoDatabase, StoreFailed, StoreFault, printable
from app.store.lying import lying
from app.store.migrate import stands_at
from app.store.verifying import UNREADABLE, inner_words


@contextmanager
def look(file: Path, migrations_dir: Path) -> Iterator[Connection]:
    """A connection that sees one moment of the database in `file`, for as long as it is used.

    Raises:
        NoDatabase: there is no such file, or there is nothing in it. Damaged: it can't be read as a database.
        ForeignDatabase: it is from a newer Leadline, or not of Leadline.
        StoreFailed: somebody holds it, or nothing can be written beside it, and it can't be copied either.
        OSError: it may not be read.
    """
    _be_a_file(file)
    with ExitStack() as open_until:
        try:
            connection, stands = _begun(open_until, file, migrations_dir)
        except ForeignDatabase as fault:
            raise ForeignDatabase(f"{file}: {fault}") from None
        except UNREADABLE as error:
            raise _in_words(file, error) from error
        if stands is None:
            raise NoDatabase(f"{file} is a database in which nothing was ever stored.")
        yield connection


def _begun(open_until: ExitStack, file: Path, migrations_dir: Path) -> tuple[Connection, str | None]:
    """A connection in a transaction, and the revision at which its tables stand."""
    try:
        return _begin(open_until, looking_engine(file), migrations_dir)
    except UNREADABLE as error:
        if not is_beside(error):
            raise
        return _begin(open_until, open_until.enter_context(lying(file)), migrations_dir)


def _begin(open_until: ExitStack, engine: Engine, migrations_dir: Path) -> tuple[Connection, str | None]:
    with ExitStack() as until:
        connection = until.enter_context(engine.connect())
        connection.begin()
        stands = stands_at(connection, migrations_dir)
        open_until.enter_context(until.pop_all())
    return connection, stands


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
