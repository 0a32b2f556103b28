"""Which store there is, by the address of its database: SQLite in the data folder, or PostgreSQL."""

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Connection

from app.store.faults import WrongDatabase
from app.store.sqlite_store import SqliteStore
from app.store.store import Store

NO_DRIVER = (
    "PostgreSQL needs a driver that is not installed here: pip install 'psycopg[binary]>=3.2.4,<4'. The "
    "archive that installs without a network has it."
)


def open_store(data_dir: Path, migrations_dir: Path, address: str = "", database: str | None = None) -> Store:
    """Open the store until its `close`.

    Args:
        data_dir, address: as for `SqliteStore`; with PostgreSQL the folder holds what is this server's own.
        database: None for SQLite in the folder, or ``postgresql+psycopg://...``.

    Raises:
        StoreFault: it can't be had; in words. OSError: the folder can't be made.
    """
    if database is None:
        return SqliteStore(data_dir, migrations_dir, address)
    with driver_needed():
        from app.store.postgres_store import PostgresStore  # Only here: without it there need be no driver.
    return PostgresStore(database, data_dir, migrations_dir, address)


@contextmanager
def driver_needed() -> Iterator[None]:
    """For what imports PostgreSQL's driver. Raises WrongDatabase: it is not installed."""
    try:
        yield
    except ImportError as error:
        raise WrongDatabase(NO_DRIVER) from error


@contextmanager
def looked_at(database: str, migrations_dir: Path) -> Iterator[Connection]:
    """A connection that sees one moment of a PostgreSQL database and changes nothing, as `glance.look` of a file.

    Raises:
        StoreFault: it can't be read, or is not of this Leadline.
    """
    with driver_needed():
        from app.store.postgres_glance import look
    with look(database, migrations_dir) as connection:
        yield connection


@contextmanager
def visited(database: str, migrations_dir: Path) -> Iterator[Store]:
    """A PostgreSQL store for a command that is soon done, with a folder that is gone with it: a server on this machine
    has the data folder.

    Raises:
        StoreFault: as `open_store`.
    """
    with (
        tempfile.TemporaryDirectory(prefix="leadline-") as folder,
        open_store(Path(folder), migrations_dir, "leadline on the command line", database) as store,
    ):
        yield store
