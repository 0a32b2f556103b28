"""Replay while the run goes on, the server hangs or the hand slips: what it says is true and the place is kept."""

import re

import pytest
from playwright.sync_api import Page, Route, expect

from tests.browser.server import Server
from tests.browser.station import NewStation, Station
from tests.browser.test_replay import LONG_MS, opened, shows

pytestmark = pytest.mark.browser

ASKED = re.compile(r"/desk\?.*have=")


@pytest.fixture
def run(server: Server) -> int:
    """A run that goes on, with a flag at 3 minutes."""
    live = server.run("relay", "0:12:00")
    server.order(live, "flag", reason="torn glove", at="0:03")
    return live


@pytest.fixture
def lost(station: NewStation, run: int) -> Page:
    """A page of Replay at a station that may complain of a lost server."""
    made: Station = station()
    made.server_down = True
    return made.open(f"/runs/{run}/desk?at=00:02:00", live=False)


def hold(route: Route) -> None:
    """Never answered."""


def said(page: Page, text: str | re.Pattern[str]) -> None:
    expect(page.locator("#replay-said")).to_have_text(text, timeout=2 * LONG_MS)


def test_an_event_that_came_while_it_was_paused_is_stepped_to(server: Server, station: NewStation, run: int) -> None:
    """Pressed at once, before the page has asked for anything by itself."""
    page = opened(station, run, "0:12:00")
    page.wait_for_timeout(1_000)
    server.order(run, "flag", reason="lamp out")
    page.keyboard.press("ArrowRight")
    expect(page.locator("main")).to_contain_text("lamp out", timeout=LONG_MS)
    expect(page.locator(".bar .clock")).not_to_have_text("00:12:00")
    page.keyboard.press("ArrowRight")
    said(page, "There is no later event.")


def test_left_alone_it_learns_that_the_run_went_on(server: Server, station: NewStation, run: int) -> None:
    page = opened(station, run, "0:12:00")
    at = int(page.locator("#replay-slider").get_attribute("max") or 0)
    page.wait_for_timeout(1_000)
    server.order(run, "flag", reason="lamp out")
    expect(page.locator("#replay-jumps summary")).to_contain_text("Flag 2", timeout=LONG_MS)
    expect(page.locator("#replay-next")).not_to_have_attribute("aria-disabled", "true")
    assert int(page.locator("#replay-slider").get_attribute("max") or 0) > at
    shows(page, "00:12:00")
    page.locator("#replay-next").click()
    expect(page.locator("main")).to_contain_text("lamp out", timeout=LONG_MS)


def test_what_was_heard_late_comes_into_the_moment_that_is_looked_at(
    server: Server, station: NewStation, run: int
) -> None:
    page = opened(station, run, "00:05:00")
    server.order(run, "flag", reason="lamp out", at="0:04")
    expect(page.locator("main")).to_contain_text("lamp out", timeout=LONG_MS)
    page.keyboard.press("ArrowLeft")
    shows(page, "00:04:00")


def test_play_where_now_was_goes_on_to_where_now_is(station: NewStation, run: int) -> None:
    page = opened(station, run, "0:12:00")
    page.wait_for_timeout(3_000)
    page.get_by_label("Speed").select_option("1")
    page.get_by_role("button", name="Play").click()
    expect(page.locator(".bar .clock")).to_have_text(re.compile(r"00:12:0[1-9]|00:12:[1-5]"), timeout=LONG_MS)


def test_the_end_key_on_the_slider_leads_to_now_and_not_to_what_was_now(station: NewStation, run: int) -> None:
    page = opened(station, run, "0:12:00")
    page.wait_for_timeout(2_000)
    page.locator("#replay-slider").press("End")
    expect(page.locator(".bar .clock")).to_have_text(re.compile(r"00:12:0[1-9]|00:12:[1-5]"), timeout=LONG_MS)


def test_a_server_that_hangs_holds_the_thumb_is_told_and_given_up_and_taken_up_again(lost: Page) -> None:
    lost.get_by_label("Speed").select_option("60")
    lost.route(ASKED, hold)
    lost.get_by_role("button", name="Play").click()
    said(lost, "The server has not answered yet. This waits for it.")
    held = lost.locator("#replay-slider").input_value()
    lost.wait_for_timeout(1_500)
    assert lost.locator("#replay-slider").input_value() == held
    said(lost, "Not shown: The server does not answer.")
    expect(lost.get_by_role("button", name="Play")).to_be_visible()
    shows(lost, "00:02:00")
    lost.unroute_all()
    said(lost, "")
    lost.keyboard.press("ArrowRight")
    shows(lost, "00:03:00")


@pytest.mark.parametrize("typed", ["0:75", "soon", "9:20"])
def test_a_slip_in_the_field_is_said_and_the_board_stays_and_plays_on(
    station: NewStation, run: int, typed: str
) -> None:
    page = opened(station, run, "00:01:00")
    page.evaluate("window.same = true")
    page.get_by_label("Speed").select_option("1")
    page.get_by_role("button", name="Play").click()
    field = page.get_by_role("textbox", name="Elapsed")
    field.fill(typed)
    field.press("Enter")
    said(page, re.compile("^Not shown: .{20}"))
    expect(page.get_by_role("button", name="Pause")).to_be_visible()
    expect(field).to_be_focused()
    expect(field).to_have_value(typed)
    assert page.evaluate("window.same")
    page.get_by_role("button", name="Pause").click()
    field.fill("0:03")
    field.press("Enter")
    shows(page, "00:03:00")
    said(page, "")
    assert page.evaluate("window.same")


def test_after_the_slider_or_the_list_was_used_space_plays(station: NewStation, run: int) -> None:
    page = opened(station, run, "00:01:00")
    page.locator("#replay-slider").press("ArrowRight")
    page.keyboard.press("Space")
    expect(page.get_by_role("button", name="Pause")).to_be_visible()
    page.keyboard.press("Space")
    expect(page.get_by_role("button", name="Play")).to_be_visible()
    page.get_by_label("Speed").click()
    page.keyboard.press("Escape")
    page.get_by_label("Speed").dispatch_event("pointerdown")
    page.get_by_label("Speed").select_option("30")
    page.keyboard.press("Space")
    expect(page.get_by_role("button", name="Pause")).to_be_visible()
    expect(page.get_by_label("Speed")).to_have_value("30")


def test_the_address_is_copied_on_a_phone_too(station: NewStation, run: int) -> None:
    made = station(width=390)
    made.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page = made.open(f"/runs/{run}/desk?at=00:03:00", live=False)
    page.get_by_role("button", name="Copy address").click()
    said(page, "Copied: the address of 00:03:00.")
    assert page.evaluate("navigator.clipboard.readText()") == page.url
    page.set_viewport_size({"width": 320, "height": 700})
    assert page.evaluate("document.scrollingElement.scrollWidth") <= 320
