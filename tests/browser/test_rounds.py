"""Rounds and gauges by keyboard at two stations: answered, bad and flagged, read, struck out, and the limit named."""

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.server import Server
from tests.browser.station import AT_ONCE_MS, NewStation

pytestmark = pytest.mark.browser

ASKED_MS = 6_000
"""A phase changes with the clock: it is seen with the next tick, and what is fetched after it."""


def _round(page: Page, person: str) -> Locator:
    return page.locator("#rounds li").filter(has_text=person)


def test_a_round_is_r_and_what_was_said_and_shows_at_once_elsewhere(server: Server, station: NewStation) -> None:
    run = server.run("dive", "1:00:30")
    here, there = station(), station()
    page, board = here.open(f"/runs/{run}/desk"), there.open(f"/runs/{run}/lead")
    expect(_round(page, "ANA")).to_contain_text("DUE")
    page.keyboard.press("r")
    expect(_round(page, "ANA").locator("[data-round]")).to_be_focused()
    page.keyboard.type("fine")
    page.keyboard.press("Tab")
    page.keyboard.type("160")
    # Enter in a field does not know whether what was said is good or bad: it sends nothing.
    page.keyboard.press("Enter")
    for key in ("Tab", "Tab", "Enter"):
        page.keyboard.press(key)
    expect(board.locator("#rounds")).to_contain_text("good: fine", timeout=AT_ONCE_MS)
    expect(board.locator("#supplies")).to_contain_text("160 bar at 01:00", timeout=AT_ONCE_MS)
    expect(page.locator("#rounds > .rows > li")).to_have_count(1)
    page.keyboard.press("Escape")
    page.keyboard.press("r")
    expect(_round(page, "BEN").locator("[data-round]")).to_be_focused()
    said = [(each["kind"], each["body"]) for each in server.events(run)][1:]
    assert [kind for kind, _ in said] == ["RoundAnswered", "ReadingTaken"], said
    assert [body["person"] for _, body in said] == ["ANA", "ANA"]


def test_bad_needs_words_and_flags_the_lead_board_until_it_is_cleared(server: Server, station: NewStation) -> None:
    run = server.run("dive", "1:10:00")
    here, there = station(), station()
    page, board = here.open(f"/runs/{run}/list/BEN"), there.open(f"/runs/{run}/lead")
    expect(_round(page, "cold")).to_contain_text("OVERDUE")
    gauge = page.locator('#rounds input[name="reading:gas"]')
    gauge.fill("150")
    page.locator("#rounds").get_by_role("button", name="Bad").click()
    expect(page.locator("#notice")).to_contain_text("Say what is bad")
    expect(gauge).to_have_value("150")
    gauge.fill("15o")
    page.locator("#rounds [data-round]").fill("Left glove leaks")
    here.next_press()
    page.locator("#rounds").get_by_role("button", name="Bad").click()
    expect(page.locator("#notice")).to_contain_text("not “15o”")
    expect(gauge).to_have_value("15o")
    expect(page.locator("#rounds [data-round]")).to_have_value("Left glove leaks")
    gauge.fill("150")
    here.next_press()
    page.locator("#rounds").get_by_role("button", name="Bad").click()
    flag = board.locator("#flags li").filter(has_text="Left glove leaks")
    expect(flag).to_contain_text("BEN, round cold answered bad", timeout=AT_ONCE_MS)
    expect(page.locator("#rounds")).to_contain_text("BAD: Left glove leaks")
    flag.get_by_label("Cleared because").fill("Dry again")
    flag.get_by_role("button", name="Clear the flag").click()
    expect(board.locator("#flags")).to_contain_text("No flag is open")


def test_a_round_becomes_due_by_the_clock_alone(server: Server, station: NewStation) -> None:
    run = server.run("dive", "0:59:57")
    page = station().open(f"/runs/{run}/desk")
    expect(_round(page, "ANA")).to_have_class("due", timeout=ASKED_MS)
    expect(_round(page, "ANA")).to_contain_text("DUE")


def test_what_is_being_typed_survives_a_round_that_comes_near(server: Server, station: NewStation) -> None:
    """It moves out of the fold of those to come, under the hand of who answers it early."""
    run = server.run("dive", "0:54:54")
    page = station().open(f"/runs/{run}/desk")
    page.keyboard.press("r")
    field = page.locator("#round-0-0")
    expect(field).to_be_focused()
    page.keyboard.type("a little ")
    expect(_round(page, "ANA")).to_have_class("soon", timeout=2 * ASKED_MS)
    expect(field).to_have_value("a little ")
    expect(field).to_be_focused()
    page.keyboard.type("cold")
    expect(field).to_have_value("a little cold")


def test_typed_words_survive_an_answer_at_another_station(server: Server, station: NewStation) -> None:
    run = server.run("dive", "1:02:00")
    page = station().open(f"/runs/{run}/desk")
    page.locator("#round-0-1").click()
    page.keyboard.type("warm ")
    server.order(run, "round-good", round="cold", person="ANA")
    expect(page.locator("#rounds > .rows > li")).to_have_count(1, timeout=AT_ONCE_MS)
    page.keyboard.type("enough")
    expect(page.locator("#round-0-1")).to_have_value("warm enough")
    expect(page.locator("#round-0-1")).to_be_focused()


def test_a_gauge_that_falls_fast_is_the_limit_at_every_station(server: Server, station: NewStation) -> None:
    run = server.run("dive", "1:00:00")
    here, there = station(), station(width=390)
    page, mine = here.open(f"/runs/{run}/desk"), there.open(f"/runs/{run}/list/ANA")
    expect(mine.locator(".bar")).to_contain_text("limit 04:00:00")
    server.ask(f"/runs/{run}/orders", do="reading", supply="gas", person="ANA", value=200.0, at="0:30:00")
    row = page.locator("#supplies li").filter(has_text="ANA gas").first
    row.get_by_label("Reading").fill("150")
    row.get_by_label("When, if not now").fill("1:00:00")
    page.keyboard.press("Enter")
    expect(mine.locator(".bar")).to_contain_text("limit, ANA gas at reserve 02:00:00", timeout=AT_ONCE_MS)
    expect(row).to_contain_text("sets the limit")
    expect(row).to_contain_text("falls 100 bar an hour")
    row.locator("summary").click()
    wrong = row.locator(".rows li").first
    wrong.get_by_label("Wrong, because").fill("read the wrong dial")
    here.next_press()
    wrong.get_by_role("button", name="Strike out").click()
    expect(mine.locator(".bar")).to_contain_text("limit 04:00:00", timeout=AT_ONCE_MS)
