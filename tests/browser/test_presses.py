"""A press counts once, a refusal is a sentence, and what was typed is never lost."""

import pytest
from playwright.sync_api import expect

from tests.browser.server import Server
from tests.browser.station import AT_ONCE_MS, NewStation, Station

pytestmark = pytest.mark.browser


@pytest.fixture
def at_desk(server: Server, station: NewStation) -> tuple[int, Station]:
    """A run whose first step is under way, shown on the Desk of one station."""
    run = server.run("relay", "0:04:00")
    there = station()
    there.open(f"/runs/{run}/desk")
    return run, there


def _marks(server: Server, run: int) -> int:
    return sum(1 for each in server.events(run) if each["kind"] == "StepMarked")


def test_a_double_click_is_one_mark(server: Server, at_desk: tuple[int, Station]) -> None:
    run, there = at_desk
    button = there.band("ANA").get_by_role("button", name="Done")
    # The pause lets the first press be answered, so the second would meet the next step's button.
    button.dblclick(delay=60)
    expect(there.band("ANA").locator(".now .text")).to_have_text("Walk to the box")
    there.page.wait_for_load_state("networkidle") if False else None
    assert _marks(server, run) == 1


def test_a_double_enter_is_one_mark(server: Server, at_desk: tuple[int, Station]) -> None:
    run, there = at_desk
    there.page.keyboard.press("1")
    there.page.keyboard.press("Enter")
    expect(there.band("ANA").locator(".now .text")).to_have_text("Walk to the box")
    there.page.keyboard.press("Enter")
    expect(there.band("ANA").locator("[data-undo]")).to_be_visible()
    assert _marks(server, run) == 1
