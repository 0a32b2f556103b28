"""Like actions are counted one by one, as fast as a person counts, and never twice."""

import pytest
from playwright.sync_api import Route, expect

from tests.browser.server import Server
from tests.browser.station import AT_ONCE_MS, NewStation, Station

pytestmark = pytest.mark.browser

QUICK_MS = 700
"""Between two presses of somebody who counts quickly."""

AtDesk = tuple[int, Station]


@pytest.fixture
def at_desk(server: Server, station: NewStation) -> AtDesk:
    run = server.run("rig", "0:04:00")
    there = station()
    there.open(f"/runs/{run}/desk")
    return run, there


def _counted(server: Server, run: int) -> list[tuple[int, int]]:
    """The numbers of the actions, press by press."""
    return [
        (each["body"]["first"], each["body"]["last"]) for each in server.events(run) if each["kind"] == "ActionsDone"
    ]


def test_eight_presses_that_follow_one_another_quickly_count_eight(server: Server, at_desk: AtDesk) -> None:
    run, there = at_desk
    there.page.keyboard.press("1")
    for _ in range(8):
        there.page.keyboard.press("Enter")
        there.page.wait_for_timeout(QUICK_MS)
    expect(there.band("ANA")).to_contain_text("8 of 8 done")
    assert _counted(server, run) == [(number, number) for number in range(1, 9)]


def test_a_double_click_counts_one(server: Server, at_desk: AtDesk) -> None:
    run, there = at_desk
    there.band("ANA").get_by_role("button", name="1 of 8").dblclick()
    expect(there.band("ANA")).to_contain_text("1 of 8 done")
    there.page.wait_for_timeout(QUICK_MS)
    assert _counted(server, run) == [(1, 1)]


def test_counts_pressed_while_the_server_is_slow_are_not_lost(server: Server, at_desk: AtDesk) -> None:
    run, there = at_desk

    def later(route: Route) -> None:
        there.page.wait_for_timeout(900)
        route.continue_()

    there.page.route("**/orders", later)
    there.page.keyboard.press("1")
    there.page.keyboard.press("Enter")
    there.page.wait_for_timeout(QUICK_MS)
    there.page.keyboard.press("Enter")
    expect(there.band("ANA")).to_contain_text("2 of 8 done")
    assert _counted(server, run) == [(1, 1), (2, 2)]


def test_a_press_that_meets_the_count_of_another_station_counts_nothing(server: Server, at_desk: AtDesk) -> None:
    run, there = at_desk
    server.ask(f"/runs/{run}/orders", do="count", step="screws/1", number=1)
    expect(there.band("ANA")).to_contain_text("1 of 8 done", timeout=AT_ONCE_MS)
    there.page.keyboard.press("1")
    there.page.keyboard.press("Enter")
    there.page.wait_for_timeout(QUICK_MS)
    assert _counted(server, run) == [(1, 1)]
    there.page.keyboard.press("Enter")
    expect(there.band("ANA")).to_contain_text("2 of 8 done")


def test_the_key_a_does_all_at_once_with_the_values_and_u_takes_it_back(server: Server, at_desk: AtDesk) -> None:
    run, there = at_desk
    there.page.keyboard.press("1")
    there.page.keyboard.press("Enter")
    expect(there.band("ANA")).to_contain_text("1 of 8 done")
    there.page.keyboard.press("v")
    there.page.keyboard.type("15")
    there.page.keyboard.press("Escape")
    there.next_press()
    there.page.keyboard.press("a")
    expect(there.band("ANA").locator(".now .text")).to_have_text("Wipe the plate")
    assert _counted(server, run) == [(1, 1), (2, 8)]
    there.next_press()
    there.page.keyboard.press("u")
    expect(there.band("ANA")).to_contain_text("1 of 8 done")


def test_what_is_typed_stays_while_it_is_counted_and_goes_with_the_last_one(server: Server, at_desk: AtDesk) -> None:
    run, there = at_desk
    server.ask(f"/runs/{run}/orders", do="count", step="screws/1", number=1)
    for number in range(2, 7):
        server.ask(f"/runs/{run}/orders", do="count", step="screws/1", number=number)
    expect(there.band("ANA")).to_contain_text("6 of 8 done", timeout=AT_ONCE_MS)
    there.band("ANA").get_by_label("turns").fill("16")
    there.next_press()
    for word in ("7 of 8", "8 of 8"):
        there.band("ANA").get_by_role("button", name=word).click()
        there.next_press()
    expect(there.band("ANA").locator(".now .text")).to_have_text("Wipe the plate")
    marks = [each["body"] for each in server.events(run) if each["kind"] == "StepMarked"]
    assert marks == [{"step": "screws/1", "values": [["turns", 16.0]], "ordered_because": None}]
