"""A run that was recorded, as the writers of its files take it."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from app.core.heads import head_of
from app.service.runs import Service
from app.writing.run_record import RunRecord
from tests.service.making import SetClock, store
from tests.service.recorded import recorded


@pytest.fixture
def record(tmp_path: Path) -> Iterator[RunRecord]:
    clock = SetClock()
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        run = recorded(service, clock)
        live = service.run(run)
        log = tuple(live.log)
        yield RunRecord(run, service.situation(run), log, live.stored.zero_utc, head_of(log))
