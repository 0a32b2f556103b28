"""A store on a real migrated file, for each test its own; and what a copy is made of, and where it goes."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from app.store.copy_places import Server, place_of
from app.store.sqlite_store import SqliteStore
from app.store.store import Store
from tests.store.making import MIGRATIONS
from tests.store.released import populated


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with SqliteStore(tmp_path / "data", MIGRATIONS, address="127.0.0.1:8000") as opened:
        yield opened


@pytest.fixture
def data() -> Iterator[Path]:
    """The newest release's folder at today's tables: runs of 52, 10 and 2 events, two accounts, a session, a secret."""
    with populated() as folder:
        SqliteStore(folder, MIGRATIONS).close()
        yield folder


@pytest.fixture
def server(postgres_url: str) -> Server:
    """A new database of a PostgreSQL server."""
    place = place_of(postgres_url)
    assert isinstance(place, Server)
    return place
