"""What the tests of copying look at: all rows of a place by plain SQL, and its secret. It asserts nothing of a copy."""

import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from typing import Any

import psycopg

from app.store.copy_places import Folder, Place, Server, copy
from app.store.copying import TABLES, Copied
from app.store.engine import FILE_NAME
from app.store.secret import SECRET_NAME
from tests.store.making import MIGRATIONS

NOW = datetime(2031, 5, 4, 12, 0, tzinfo=UTC)


def copied(source: Place, target: Place) -> Copied:
    return copy(source, target, MIGRATIONS, NOW)


def rows(place: Place) -> dict[str, list[Any]]:
    """All rows of the tables that are copied, by plain SQL."""
    said = {
        table.name: f"SELECT {', '.join(column.name for column in table.columns)} FROM {table.name}" for table in TABLES
    }
    if isinstance(place, Server):
        with psycopg.connect(plain(place)) as db:
            return {name: sorted(db.execute(sql.encode()).fetchall()) for name, sql in said.items()}
    file = place.path / FILE_NAME if isinstance(place, Folder) else place.file
    with closing(sqlite3.connect(file)) as raw:
        return {name: sorted(raw.execute(sql).fetchall()) for name, sql in said.items()}


def address(place: Server) -> str:
    return place.url.render_as_string(hide_password=False)


def plain(place: Server) -> str:
    """Its address as libpq has it."""
    return place.url.set(drivername="postgresql").render_as_string(hide_password=False)


def secret_of(place: Folder | Server) -> str:
    if isinstance(place, Folder):
        return (place.path / SECRET_NAME).read_bytes().hex()
    with psycopg.connect(plain(place)) as db:
        found = db.execute("SELECT value FROM kept WHERE name = 'secret'").fetchone()
    assert found is not None
    return str(found[0])
