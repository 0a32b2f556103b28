"""A look at a PostgreSQL database that servers may be using: at one moment of it. It changes nothing.

What it asks about the guards is by PostgreSQL's own catalogue.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError

from app.store.faults import NoDatabase
from app.store.migrate import stands_at
from app.store.postgres_engine import address_of, reader_engine, shown
from app.store.postgres_upgrade import in_words, refuse_unfit


@contextmanager
def look(database: str, migrations_dir: Path) -> Iterator[Connection]:
    """A connection that sees one moment of the database, for as long as it is used.

    Raises:
        NoDatabase: nothing was ever stored in it. ForeignDatabase: it is from a newer Leadline, or not of Leadline.
        WrongDatabase: no address of a PostgreSQL that can be used. StoreFailed: it can't be reached.
    """
    url = address_of(database)
    engine = reader_engine(url)
    try:
        with engine.connect() as connection, connection.begin():
            refuse_unfit(connection)
            if stands_at(connection, migrations_dir) is None:
                raise NoDatabase(f"{shown(url)} is a database in which nothing was ever stored.")
            yield connection
    except DBAPIError as error:
        raise in_words(url, error) from error
    finally:
        engine.dispose()
