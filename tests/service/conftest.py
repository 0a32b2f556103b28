"""A service over a store of its own, on a clock that stands until it is set."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from app.service.runs import Service
from tests.service.making import SetClock, store


@pytest.fixture
def clock() -> SetClock:
    return SetClock()


@pytest.fixture
def service(tmp_path: Path, clock: SetClock) -> Iterator[Service]:
    with store(tmp_path) as opened:
        yield Service(opened, clock.server())
