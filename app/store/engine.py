"""Engines for a data directory, and all else that only SQLite needs. It knows no table.

One writer connection holds every lock and makes every checkpoint: SQLite 3.7.0 to 3.51.2 may corrupt a file when two
connections race on the reset of a write-ahead log. Readers therefore never checkpoint, and are closed first.
"""

import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.exc import DBAPIError
from sqlalchemy.pool import NullPool, QueuePool

from app.store.faults import StoreFailed, StoreFull

FILE_NAME = "leadline.sqlite3"

BUSY_MS = 5000
"""How long a connection waits for a lock. Ours never compete for one; a copying tool of the owner might."""

READERS = 8
"""Reads take well under a millisecond, so a few connections serve many screens."""

WRITER_PRAGMAS = (
    f"busy_timeout={BUSY_MS}",
    "journal_mode=WAL",
    "synchronous=FULL",
    "foreign_keys=ON",
    "recursive_triggers=ON",  # else INSERT OR REPLACE deletes a row without the trigger that forbids it
)
READER_PRAGMAS = (
    f"busy_timeout={BUSY_MS}",
    "synchronous=FULL",
    "foreign_keys=ON",
    "recursive_triggers=ON",
    "wal_autocheckpoint=0",
    "query_only=ON",
)


def writer_engine(data_dir: Path) -> Engine:
    """The engine of the one connection that writes. Its transactions take the write lock at once."""
    return _engine(data_dir / FILE_NAME, size=1, pragmas=WRITER_PRAGMAS, begin="BEGIN IMMEDIATE")


def reader_engine(data_dir: Path) -> Engine:
    """The engine of the connections that read. Each transaction sees one moment of the database."""
    return _engine(data_dir / FILE_NAME, size=READERS, pragmas=READER_PRAGMAS, begin="BEGIN")


def filling_engine(file: Path) -> Engine:
    """The engine of a file that only we know of: it needs no log beside it that readers could go by."""
    pragmas = tuple(each for each in WRITER_PRAGMAS if not each.startswith("journal_mode"))
    return _engine(file, size=1, pragmas=pragmas, begin="BEGIN IMMEDIATE")


def _engine(file: Path, size: int, pragmas: tuple[str, ...], begin: str) -> Engine:
    url = URL.create("sqlite", database=str(file))
    engine = create_engine(url, poolclass=QueuePool, pool_size=size, max_overflow=0, pool_timeout=10)
    event.listen(engine, "connect", _on_connect(pragmas))
    event.listen(engine, "begin", lambda connection: connection.exec_driver_sql(begin))
    return engine


def looking_engine(file: Path, lies: bool = False) -> Engine:
    """The engine of a look from outside, at a file that a server may have open. SQLite itself opens it read-only.

    Such a connection can neither write nor checkpoint, not even when it is the last to close (ran: SQLite 3.40).

    Args:
        lies: read it as it lies, without a file beside it and without its log. Then nobody may have it open.
    """
    address = f"{file.absolute().as_uri()}?mode=ro{'&immutable=1' if lies else ''}"
    engine = create_engine("sqlite://", creator=lambda: _looking(address), poolclass=NullPool)
    event.listen(engine, "begin", lambda connection: connection.exec_driver_sql("BEGIN"))
    return engine


def _looking(address: str) -> sqlite3.Connection:
    connection = sqlite3.connect(address, uri=True)
    try:
        _on_connect(READER_PRAGMAS)(connection, None)
    except BaseException:
        connection.close()
        raise
    return connection


def _on_connect(pragmas: tuple[str, ...]) -> Callable[[Any, Any], None]:
    def set_up(connection: sqlite3.Connection, _record: object) -> None:
        # The driver would otherwise begin deferred transactions by itself, and commit before some statements.
        connection.isolation_level = None
        for pragma in pragmas:
            connection.execute(f"PRAGMA {pragma}").close()

    return set_up


def driver(connection: Connection) -> sqlite3.Connection:
    """The driver's own connection, for what SQLAlchemy has no word for.

    Raises:
        StoreFailed: the connection has been lost.
    """
    inner: object = connection.connection.dbapi_connection
    if not isinstance(inner, sqlite3.Connection):
        raise StoreFailed("The connection to the database was lost. Send it again.")
    return inner


def in_transaction(connection: Connection) -> bool:
    """Whether SQLite itself still holds a transaction open: it ends one by itself after some disk errors."""
    return driver(connection).in_transaction


def checkpoint(connection: Connection) -> None:
    """Move the write-ahead log into the file and empty it. Only ever from the writer, outside a transaction."""
    driver(connection).execute("PRAGMA wal_checkpoint(TRUNCATE)").close()


_FATAL = {
    sqlite3.SQLITE_IOERR: "The disk reported an error while the database was in use",
    sqlite3.SQLITE_CORRUPT: "The database file is damaged",
    sqlite3.SQLITE_NOTADB: "The database file is damaged",
    sqlite3.SQLITE_CANTOPEN: "The database file could not be opened",
    sqlite3.SQLITE_READONLY: "The database file may not be written",
    sqlite3.SQLITE_NOMEM: "The machine is out of memory",
    sqlite3.SQLITE_BUSY: "Another program holds the database file",
    sqlite3.SQLITE_LOCKED: "Another program holds the database file",
}
_SHM_FULL = 4874
"""SQLITE_IOERR_SHMSIZE (sqlite.org/rescode.html): the wal-index beside the file could not grow, for want of room."""
_NOT_BESIDE = frozenset({4618, _SHM_FULL, 5130, 5386})
"""SQLITE_IOERR_SHMOPEN, _SHMSIZE, _SHMLOCK and _SHMMAP (sqlite.org/rescode.html): the same, for any reason."""


def is_held(error: BaseException) -> bool:
    """Whether somebody else's lock stood in the way: then nothing can be said of the file."""
    return _code(error) & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)


def is_damage(error: BaseException) -> bool:
    """Whether the file itself is not, or no longer, a database."""
    return _code(error) & 0xFF in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


def is_full(error: BaseException) -> bool:
    """Whether there was no room on the disk."""
    return _code(error) & 0xFF == sqlite3.SQLITE_FULL or _code(error) == _SHM_FULL


def is_beside(error: BaseException) -> bool:
    """Whether the file beside the database, without which it can't be read, could not be made or used."""
    code = _code(error)
    return is_full(error) or code in _NOT_BESIDE or code & 0xFF in (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY)


def _code(error: BaseException) -> int:
    """SQLite's extended result code; 0 for any other error."""
    inner = error.orig if isinstance(error, DBAPIError) else error
    return getattr(inner, "sqlite_errorcode", None) or 0


def failure_of(error: BaseException, opening: Path | None = None) -> StoreFailed | None:
    """The fault for an error of the database as a whole; None for one of a single statement, such as a constraint.

    Args:
        opening: the file, where it was being opened and nobody had sent anything.
    """
    if isinstance(error, StoreFailed):
        return error
    inner = error.orig if isinstance(error, DBAPIError) else error
    if not isinstance(inner, sqlite3.Error):
        return None
    code = _code(inner)
    if is_full(inner):
        if opening is not None:
            return StoreFull(f"The disk of {opening.parent} is full. Make room on it, then start again.")
        return StoreFull("The disk is full: nothing was stored. Make room on it, then send it again.")
    words = _FATAL.get(code & 0xFF)
    if words is not None and opening is not None:
        return StoreFailed(f"{words} ({inner}): {opening}. Mend that, then start again.")
    return None if words is None else StoreFailed(f"{words} ({inner}). It may not be stored: send it again.")
