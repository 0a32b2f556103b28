"""The ticks of a run whose Lead board is looked at: the forecast's figures, fresh, and nothing made for nobody."""

import json
from collections.abc import Callable
from typing import Any

import pytest

from app.feed import Feed, Screen
from app.service import outlooks
from app.web.views.ahead import outlook_figures
from tests.web.site import Site
from tests.web.yard import YARD, ahead_of, figure, lead

WITHIN = 300
"""Tenths of a second that a tick is waited for: they come each second."""


@pytest.fixture
def run(site: Site, monkeypatch: pytest.MonkeyPatch) -> int:
    """A run whose every look ahead is fresh, however fast the test asks."""
    monkeypatch.setattr(outlooks, "REST", 0)
    return site.start(YARD)


def watch(site: Site, run: int) -> Screen:
    """A screen that shows some page of the run."""
    feed = site.app.state.feed
    assert isinstance(feed, Feed)
    return feed.open([run])


def ticks(screen: Screen) -> list[dict[str, Any]]:
    """What has been told since the last call."""
    told = []
    while not screen._queue.empty():
        message = screen._queue.get_nowait()
        if message is not None and message.startswith(b"event: tick"):
            told.append(json.loads(message.split(b"data: ")[1]))
    return told


def next_tick(site: Site, screen: Screen, wanted: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
    """The next tick that is like that. A tick has the figures that changed; now and then it has all."""
    for _ in range(WITHIN):
        site.wait(0.1)
        for tick in ticks(screen):
            if wanted(tick):
                return tick
    raise AssertionError("no such tick")


def next_with(site: Site, screen: Screen, name: str, text: str = "") -> dict[str, Any]:
    """The next tick that has this figure, saying so."""
    return next_tick(site, screen, lambda tick: name in tick["figures"] and text in ("", tick["figures"][name]))


def made_at(site: Site, run: int) -> int | None:
    newest = site.shell.lookout.newest(run)
    return None if newest is None else newest.situation.at_s


def looked_ahead(site: Site, run: int, at_s: int) -> bool:
    """Whether the newest outlook is, within some ticks, one of this second."""
    for _ in range(WITHIN):
        if made_at(site, run) == at_s:
            return True
        site.wait(0.1)
    return False


def test_ticks_carry_the_figures_of_the_forecast_as_the_page_shows_them(site: Site, run: int) -> None:
    page = site.page(lead(run))
    tick = next_with(site, watch(site, run), "chance")
    expected = outlook_figures(ahead_of(site, run), 0)
    assert {"chance", "spread", "spread-EV1", "window-0", "option-0-wins", "option-2-chance", "set-lead"} <= set(
        expected
    )
    for name, text in expected.items():
        assert tick["figures"][name] == text == (figure(page, name) if f'"{name}"' in page else text), name


def test_the_age_counts_up_between_two_outlooks(site: Site, run: int) -> None:
    site.page(lead(run))
    screen = watch(site, run)
    for at_s in (3, 9):
        site.clock.at_s = at_s
        assert next_with(site, screen, "forecast-age", f"{at_s}s")["elapsed_ms"] == at_s * 1000
    assert made_at(site, run) == 0


def test_an_outlook_is_made_anew_within_ticks_once_it_is_ten_seconds_old(site: Site, run: int) -> None:
    site.page(lead(run))
    screen = watch(site, run)
    site.clock.at_s = 10
    assert looked_ahead(site, run, 10)
    assert next_with(site, screen, "forecast-age", "0s")["elapsed_ms"] == 10_000


def test_an_outlook_is_made_anew_within_ticks_after_an_event(site: Site, run: int) -> None:
    site.page(lead(run))
    screen = watch(site, run)
    before = next_with(site, screen, "option-0-finish")
    site.clock.at_s = 5
    site.post(f"/api/runs/{run}/orders", json={"do": "put-off-set", "tasks": ["gate"], "reason": "rain"})
    assert looked_ahead(site, run, 5)
    expected = outlook_figures(ahead_of(site, run), 5)
    assert expected["option-0-finish"] != before["figures"]["option-0-finish"]
    after = next_with(site, screen, "option-0-finish", expected["option-0-finish"])
    assert after["figures"]["chance"] == expected["chance"]
    assert after["view"] > before["view"]
    assert "option-2-wins" not in after["figures"]


def test_nothing_is_made_for_a_run_whose_lead_board_nobody_looks_at(site: Site, run: int) -> None:
    screen = watch(site, run)
    site.page(f"/runs/{run}/desk")
    site.clock.at_s = 30
    tick = next_with(site, screen, "finish")
    site.wait(1.2)
    assert made_at(site, run) is None
    assert "chance" not in tick["figures"]


def test_nothing_more_is_made_when_nobody_watches_or_nobody_has_asked_for_a_minute(
    site: Site, run: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    site.page(lead(run))
    site.clock.at_s = 30
    site.wait(2.2)
    assert made_at(site, run) == 0, "nobody watches"
    monkeypatch.setattr(outlooks, "ASKED_S", 0)
    screen = watch(site, run)
    next_with(site, screen, "finish")
    site.wait(1.2)
    assert made_at(site, run) == 0, "nobody has asked lately"


def test_a_stream_begins_with_the_view_that_the_ticks_count_on_from(site: Site, run: int) -> None:
    site.page(lead(run))
    screen = watch(site, run)
    next_with(site, screen, "chance")
    site.clock.at_s = 20
    site.done(run, "dig/1")
    assert looked_ahead(site, run, 20)
    view = next_with(site, screen, "forecast-age", "0s")["view"]
    first = json.loads(site.shell.live._first(run).split(b"data: ")[1])
    assert first["view"] == view > 0
