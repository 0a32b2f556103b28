"""A station without a link for an hour of its run: each mark stands at its own time when the link is back."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.browser.cable import Cable
from tests.browser.clocked import ClockedServer
from tests.browser.kept import counts, did, elapsed_s, has_cards, is_lost, told
from tests.browser.station import NewStation

pytestmark = pytest.mark.browser

HOUR_S = 3_600


@pytest.fixture
def clocked(tmp_path: Path) -> Iterator[ClockedServer]:
    with ClockedServer(tmp_path) as started:
        yield started


def test_marks_of_an_hour_without_a_link_stand_at_their_times(clocked: ClockedServer, station: NewStation) -> None:
    with Cable(clocked.port) as cable:
        run = clocked.run("relay", "0:10:00")
        there = station(cable)
        there.server_down = True
        there.take_clock()
        page = there.open(f"/runs/{run}/desk")
        has_cards(page)
        before = len(clocked.events(run))
        cable.cut()
        is_lost(page)
        pressed = []
        for person, minutes in (("ANA", 0), ("ANA", 20), ("BEN", 20), ("CHI", 20)):
            clocked.ahead(minutes * 60)
            page.clock.fast_forward(minutes * 60 * 1000)
            if person == "CHI":
                there.band("CHI").get_by_label("voltage").locator("visible=true").fill("1")
            pressed.append(elapsed_s(page))
            there.band(person).locator("button:visible").get_by_text("Done", exact=True).click()
            page.wait_for_timeout(600)  # In truth: to set the page's clock forward would make the station fast.
        expect(page.locator("#link")).to_contain_text("STALE")
        counts(page, 4)
        assert pressed[-1] >= pressed[0] + HOUR_S
        cable.restore()
        for _ in range(5):
            page.clock.fast_forward(3_000)
            page.wait_for_timeout(500)
        counts(page, 0)
        events = did(clocked, run, before)
        steps = ("out/1", "out/2", "sweep/1", "cut/1")
        assert told(events) == [("StepMarked", step) for step in steps]
        for event, at_s in zip(events, pressed, strict=True):
            assert 0 <= event["at_s"] - at_s <= 1
            assert event["logged_s"] >= pressed[-1]
