"""Replay by hand, by key and by link: it plays, stops, steps, jumps and drags, and its address is the moment shown."""

import re
from typing import Any

import pytest
from playwright.sync_api import Page, Route, expect

from tests.browser.looking import AXE, WIDTHS, violations
from tests.browser.server import Server
from tests.browser.station import NewStation

pytestmark = pytest.mark.browser

MINUTES_5, MINUTES_10, MINUTES_11 = "00:05:00", "00:10:00", "00:11:00"
LONG_MS = 15_000
"""What is played, at the longest, on a busy machine."""


@pytest.fixture(scope="module")
def run(server: Server) -> int:
    """An ended run of twenty minutes: a flag at 3, marks at 5 and 10, a flag at 11; from 14 on the team is late."""
    found = server.run("relay", "0:20:00")
    server.order(found, "flag", reason="torn glove", at="0:03")
    for step, at in (("out/1", "0:05"), ("out/2", "0:10")):
        server.mark(found, step, at)
    server.order(found, "flag", reason="lamp out", at="0:11")
    server.order(found, "end", reason="called in")
    return found


def shows(page: Page, moment: str, timeout: int = LONG_MS) -> None:
    """The boards, the slider, the field and the address are all of this moment."""
    expect(page.locator(".bar .clock")).to_have_text(moment, timeout=timeout)
    expect(page).to_have_url(re.compile(rf"\?at={moment}$"))
    expect(page.locator("#replay-slider")).to_have_attribute("aria-valuetext", moment)
    expect(page.locator("#replay-typed")).to_have_value(moment)


def opened(station: NewStation, run: int, at: str = "00:04:30", page: str = "desk", **more: Any) -> Page:
    shown = station(**more).open(f"/runs/{run}/{page}?at={at}", live=False)
    expect(shown.locator("#replay-play")).to_be_visible()
    return shown


def test_it_plays_at_the_speed_that_was_chosen_and_pauses(station: NewStation, run: int) -> None:
    page = opened(station, run, "00:01:00")
    page.get_by_label("Speed").select_option("60")
    page.get_by_role("button", name="Play").click()
    expect(page.locator("body")).to_contain_text("torn glove", timeout=LONG_MS)
    page.get_by_role("button", name="Pause").click()
    expect(page.get_by_role("button", name="Play")).to_be_visible()
    at = page.locator("#replay-slider").get_attribute("aria-valuetext") or ""
    shows(page, at)
    page.wait_for_timeout(1_500)
    shows(page, at)


def test_it_stops_at_the_end_and_says_so_and_plays_again_from_the_beginning(station: NewStation, run: int) -> None:
    page = opened(station, run, "00:18:00")
    page.get_by_label("Speed").select_option("120")
    page.get_by_role("button", name="Play").click()
    expect(page.locator("#replay-said")).to_have_text("This is the end of the run.", timeout=LONG_MS)
    end = page.locator("#replay-slider").get_attribute("aria-valuetext") or ""
    shows(page, end)
    assert page.locator("#replay-slider").get_attribute("max") == page.locator("#replay-slider").input_value()
    page.get_by_label("Speed").select_option("1")
    page.get_by_role("button", name="Play").click()
    expect(page.locator(".bar .clock")).to_have_text(re.compile("00:00:"), timeout=LONG_MS)


def test_a_run_that_goes_on_is_played_up_to_now_which_is_said(server: Server, station: NewStation) -> None:
    live = server.run("relay", "0:12:00")
    page = opened(station, live, "00:11:30")
    page.get_by_label("Speed").select_option("120")
    page.get_by_role("button", name="Play").click()
    expect(page.locator("#replay-said")).to_contain_text("This is now. The run goes on", timeout=LONG_MS)
    page.get_by_role("link", name="Back to now").click()
    page.locator("#link.live").wait_for()


def test_links_go_from_event_to_event_without_loading_the_page_anew(station: NewStation, run: int) -> None:
    page = opened(station, run)
    page.evaluate("window.same = true")
    page.get_by_role("link", name="Next event").click()
    shows(page, MINUTES_5)
    page.get_by_role("link", name="Next event").click()
    shows(page, MINUTES_10)
    page.get_by_role("link", name="Previous event").click()
    shows(page, MINUTES_5)
    assert page.evaluate("window.same")


def test_keys_alone_step_play_jump_and_lead_back(station: NewStation, run: int) -> None:
    page = opened(station, run)
    for key, moment in (("ArrowRight", MINUTES_5), ("ArrowRight", MINUTES_10), ("ArrowLeft", MINUTES_5)):
        page.keyboard.press(key)
        shows(page, moment)
    page.keyboard.press("j")
    expect(page.locator("#replay-jumps a").first).to_be_focused()
    page.keyboard.press("Escape")
    expect(page.locator("#replay-jumps")).not_to_have_attribute("open", "")
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("Space")
    expect(page.get_by_role("button", name="Pause")).to_be_visible()
    page.keyboard.press("Space")
    expect(page.get_by_role("button", name="Play")).to_be_visible()
    for key, chosen in (("+", "30"), ("-", "10"), ("-", "5")):
        page.keyboard.press(key)
        expect(page.get_by_label("Speed")).to_have_value(chosen)
    page.keyboard.press("?")
    expect(page.locator("#keys")).to_contain_text("play or pause the replay")
    page.keyboard.press("Escape")
    page.keyboard.press("b")
    expect(page).to_have_url(re.compile(r"/desk(\?)?$"))


def test_a_press_before_the_answer_to_the_last_one_counts_from_where_the_hand_is(station: NewStation, run: int) -> None:
    page = opened(station, run)
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    shows(page, MINUTES_11)


def test_a_key_that_is_typed_stays_in_its_field(station: NewStation, run: int) -> None:
    page = opened(station, run)
    field = page.get_by_role("textbox", name="Elapsed")
    field.fill("0:1")
    field.press("ArrowLeft")
    field.press("j")
    expect(page.locator("#replay-jumps")).not_to_have_attribute("open", "")
    field.fill("0:10")
    field.press("Enter")
    shows(page, MINUTES_10)


def test_jumps_lead_to_their_moments_and_where_the_lead_turned_is_found_by_itself(
    station: NewStation, run: int
) -> None:
    page = opened(station, run)
    page.locator("#replay-jumps summary").click()
    behind = page.get_by_role("region", name="Lead turned negative").get_by_role("link", name="Team behind").first
    expect(behind).to_be_visible(timeout=LONG_MS)
    moment = behind.locator("b").inner_text()
    behind.click()
    shows(page, moment)
    expect(page.locator(".bar .lead").first).to_contain_text("behind")
    page.get_by_role("link", name="lamp out").click()
    shows(page, MINUTES_11)
    expect(page.locator("main")).to_contain_text("lamp out")


def test_dragging_shows_boards_on_the_way_and_settles_where_it_is_let_go(station: NewStation, run: int) -> None:
    page = opened(station, run, "00:00:00")
    slider = page.locator("#replay-slider")
    box = slider.bounding_box()
    assert box is not None
    middle = box["y"] + box["height"] / 2
    seen = set()
    page.mouse.move(box["x"] + 10, middle)
    page.mouse.down()
    for part in range(1, 9):
        page.mouse.move(box["x"] + box["width"] * part / 10, middle)
        page.wait_for_timeout(300)
        seen.add(page.locator(".bar .clock").inner_text())
    page.mouse.up()
    assert len(seen) > 3
    shows(page, slider.get_attribute("aria-valuetext") or "")
    slider.press("ArrowRight")
    shows(page, slider.get_attribute("aria-valuetext") or "")


def test_however_slow_the_server_one_request_is_under_way_and_the_newest_moment_wins(
    station: NewStation, run: int
) -> None:
    page = opened(station, run)
    expect(page.locator("#replay-jumps[data-looking]")).to_have_count(0, timeout=LONG_MS)
    held: list[Route] = []
    asked: list[str] = []

    def hold(route: Route) -> None:
        asked.append(route.request.url)
        held.append(route)

    page.route(re.compile(r"/desk\?.*have="), hold)
    for moment in range(310, 400, 10):
        page.locator("#replay-slider").evaluate(
            "(slider, at) => { slider.value = at; slider.dispatchEvent(new Event('input', {bubbles: true})); }", moment
        )
        page.wait_for_timeout(50)
    page.wait_for_timeout(500)
    assert len(asked) == 1
    held[0].continue_()
    page.unroute_all()
    shows(page, "00:06:30")


def test_a_server_that_refuses_stops_it_and_is_quoted(station: NewStation, run: int) -> None:
    page = opened(station, run)
    expect(page.locator("#replay-jumps[data-looking]")).to_have_count(0, timeout=LONG_MS)
    page.route(re.compile(r"/desk\?.*have="), lambda route: route.fulfill(status=404, body="<p>no</p>"))
    page.keyboard.press("ArrowRight")
    expect(page.locator("#replay-said")).to_contain_text("Not shown")
    shows(page, "00:04:30")


def test_the_address_sent_to_a_colleague_shows_the_same(station: NewStation, run: int) -> None:
    page = opened(station, run, page="lead")
    page.keyboard.press("ArrowRight")
    shows(page, MINUTES_5)
    other = opened(station, run)
    other.goto(page.url)
    shows(other, MINUTES_5)
    assert other.locator("main").inner_text() == page.locator("main").inner_text()


def test_the_figures_of_every_part_are_those_of_the_page_loaded_at_that_moment(station: NewStation, run: int) -> None:
    for name in ("desk", "lead", "list/ANA", "handover"):
        page = opened(station, run, page=name)
        page.keyboard.press("ArrowRight")
        shows(page, MINUTES_5)
        sought = page.locator("main").inner_text()
        bar = page.locator(".bar").inner_text()
        page.reload()
        assert page.locator("main").inner_text() == sought
        assert page.locator(".bar").inner_text() == bar


def test_it_goes_on_playing_on_the_next_page_at_the_same_speed(station: NewStation, run: int) -> None:
    page = opened(station, run, "00:01:00")
    page.get_by_label("Speed").select_option("5")
    page.get_by_role("button", name="Play").click()
    page.get_by_role("link", name="Lead board").click()
    expect(page).to_have_url(re.compile(r"/lead\?at="))
    expect(page.get_by_role("button", name="Pause")).to_be_visible()
    expect(page.get_by_label("Speed")).to_have_value("5")


def test_a_live_page_leads_into_it_and_it_asks_for_nothing_but_parts(server: Server, station: NewStation) -> None:
    live = server.run("relay", "0:12:00")
    server.mark(live, "out/1", "0:05")
    page = station().open(f"/runs/{live}/list/ANA")
    page.get_by_role("link", name="Replay").click()
    shows(page, MINUTES_5)
    asked: list[tuple[str, str | None]] = []
    page.on("request", lambda each: asked.append((each.url, each.headers.get("hx-request"))))
    page.keyboard.press("ArrowLeft")
    shows(page, "00:00:00")
    assert {smooth for url, smooth in asked if "/runs/" in url} == {"true"}


def test_without_script_all_but_playing_works_as_links_and_forms(station: NewStation, run: int) -> None:
    page = station(script=False).open(f"/runs/{run}/desk?at=0:04:30", live=False)
    expect(page.locator("#replay-play, #replay-speed, #replay-copy").first).to_be_hidden()
    page.get_by_role("link", name="Next event").click()
    expect(page.locator(".bar .clock")).to_have_text(MINUTES_5)
    page.get_by_role("button", name="Go there").click()
    expect(page.locator(".bar .clock")).to_have_text(MINUTES_5)
    page.get_by_role("textbox", name="Elapsed").fill("0:10:30")
    page.get_by_role("button", name="Show that moment").click()
    expect(page.locator(".bar .clock")).to_have_text("00:10:30")
    page.locator("#replay-jumps summary").click()
    further = page.get_by_role("link", name="Look further")
    if further.count():
        further.click()
        page.locator("#replay-jumps summary").click()
    page.get_by_role("link", name="Team behind").first.click()
    expect(page.locator(".bar .lead").first).to_contain_text("behind")
    page.get_by_role("link", name="Back to now").click()
    expect(page.locator("#replay")).to_have_count(0)


def test_axe_finds_nothing_and_it_fits_every_width_with_its_lists_open(station: NewStation, run: int) -> None:
    page = opened(station, run, page="lead")
    page.keyboard.press("ArrowRight")
    page.evaluate("document.getElementById('replay-jumps').open = true")
    page.evaluate(AXE)
    found = []
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.scrollingElement.scrollWidth") <= width
        if width in (390, 1440):
            for theme in ("dark", "light"):
                page.evaluate("theme => { document.documentElement.dataset.theme = theme }", theme)
                found += violations(page)
    assert not found, "\n".join(found)
