"""The task that ticks: one fault of the disk does not still the screens for good."""

import pytest

from app.feed import Feed
from app.store.faults import StoreFailed
from app.store.library import StoredRun
from app.web.live import HOME
from tests.web.site import Site


def test_a_disk_that_fails_once_costs_one_tick(
    site: Site, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    site.start()
    runs, failed = site.shell.service.runs, list[bool]()

    def fails_once() -> tuple[StoredRun, ...]:
        if not failed:
            failed.append(True)
            raise StoreFailed("The disk reported an error.")
        return runs()

    monkeypatch.setattr(site.shell.service, "runs", fails_once)
    feed = site.app.state.feed
    assert isinstance(feed, Feed)
    screen = feed.open([HOME])
    for _ in range(300):
        site.wait(0.1)
        if not screen._queue.empty():
            break
    assert failed
    assert not screen._queue.empty()
    assert "The disk reported an error." in caplog.text
