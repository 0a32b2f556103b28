"""A store on a real migrated file, for each test its own."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from app.store.store import Store
from tests.store.making import MIGRATIONS


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "data", MIGRATIONS, address="127.0.0.1:8000") as opened:
        yield opened
