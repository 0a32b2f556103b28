"""What is kept outlives the page, the tab and the browser, and several tabs share it."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Dialog, Page, Route, expect

from tests.browser.cable import Cable
from tests.browser.conftest import FLAGS, chromium
from tests.browser.kept import card, counts, did, elapsed_s, has_cards, is_lost, row, rows, told, until
from tests.browser.server import Server
from tests.browser.station import Station

pytestmark = pytest.mark.browser


@pytest.fixture
def at_desk(server: Server, far: Station) -> int:
    run = server.run("relay", "0:12:00")
    far.open(f"/runs/{run}/desk")
    has_cards(far.page)
    return run


def _done(there: Station, *designators: str) -> None:
    for designator in designators:
        there.band(designator).locator("button:visible").get_by_text("Done", exact=True).click()
        there.next_press()


def _unsent(page: Page) -> None:
    """Pages are answered, orders are not: what is kept stays kept."""
    page.context.route("**/orders", lambda route: route.abort())


def test_a_reload_loses_nothing(far: Station, at_desk: int, server: Server) -> None:
    _unsent(far.page)
    pressed = elapsed_s(far.page)
    _done(far, "ANA")
    counts(far.page, 1)
    far.page.on("dialog", lambda dialog: dialog.accept())
    far.page.reload()
    counts(far.page, 1)
    expect(row(far.page, "Open the door")).to_have_count(1)
    far.context.unroute_all()
    counts(far.page, 0)
    event = server.events(at_desk)[-1]
    assert (event["body"]["step"], event["by"]) == ("out/1", "Ground support")
    assert pressed <= event["at_s"] <= pressed + 1


def test_a_tab_that_is_closed_and_opened_again_has_what_it_kept(
    far: Station, cable: Cable, at_desk: int, server: Server
) -> None:
    cable.cut()
    is_lost(far.page)
    _done(far, "ANA", "ANA")
    counts(far.page, 2)
    far.page.close()
    cable.restore()
    far.page = far.context.new_page()
    far.page.goto("/")
    until(lambda: server.marked(at_desk) == ["out/1", "out/2"], far.page)
    counts(far.page, 0)


def test_the_home_page_shows_what_is_kept_of_any_run(far: Station, at_desk: int) -> None:
    _unsent(far.page)
    _done(far, "ANA")
    counts(far.page, 1)
    home = far.tab("/")
    counts(home, 1)
    home.locator("#kept button").click()
    expect(rows(home)).to_contain_text(f"run {at_desk}")


def test_a_browser_that_is_killed_and_started_again_has_what_it_kept(
    browser: Browser, server: Server, tmp_path: Path
) -> None:
    def started() -> Page:
        made = browser.browser_type.launch_persistent_context(
            tmp_path / "profile", executable_path=chromium(), args=list(FLAGS), base_url=server.address
        )
        return made.pages[0]

    run = server.run("relay", "0:12:00")
    page = started()
    page.goto(f"/runs/{run}/desk")
    has_cards(page)
    _unsent(page)
    page.locator('section.band[aria-label="ANA"] [data-done]:visible').click()
    counts(page, 1)
    page.context.close()
    page = started()
    page.goto(f"/runs/{run}/desk")
    until(lambda: server.marked(run) == ["out/1"], page)
    counts(page, 0)
    page.context.close()


@pytest.mark.usefixtures("at_desk")
def test_closing_the_tab_warns_while_something_waits_and_not_otherwise(far: Station) -> None:
    asked: list[str] = []

    def asks(dialog: Dialog) -> None:
        asked.append(dialog.type)
        dialog.dismiss()

    far.page.on("dialog", asks)
    _unsent(far.page)
    _done(far, "ANA")
    counts(far.page, 1)
    far.page.close(run_before_unload=True)
    until(lambda: bool(asked), far.page)
    assert asked == ["beforeunload"]
    assert not far.page.is_closed()
    far.context.unroute_all()
    counts(far.page, 0)
    other = far.context.new_page()
    far.page.close(run_before_unload=True)
    until(far.page.is_closed, other)
    assert asked == ["beforeunload"]


def test_two_tabs_keep_in_one_row_and_send_it_once_in_order(
    far: Station, cable: Cable, at_desk: int, server: Server
) -> None:
    other = far.tab(f"/runs/{at_desk}/list/ANA")
    has_cards(other)
    before = len(server.events(at_desk))
    cable.cut()
    is_lost(far.page)
    is_lost(other)
    _done(far, "ANA")
    counts(other, 1)
    band = other.locator('section.band[aria-label="ANA"]')
    expect(band.locator(".spare .text")).to_have_text("Walk to the box")
    band.locator(".spare [data-done]").click()
    counts(far.page, 2)
    expect(card(far, "ANA").locator(".text")).to_have_text("Stop. Is the box free")
    far.next_press()
    _done(far, "BEN")
    counts(other, 3)
    cable.restore()
    counts(far.page, 0)
    counts(other, 0)
    events = did(server, at_desk, before)
    assert told(events) == [("StepMarked", "out/1"), ("StepMarked", "out/2"), ("StepMarked", "sweep/1")]
    assert [each["at_s"] for each in events] == sorted(each["at_s"] for each in events)


def test_a_press_that_another_tab_is_sending_is_not_taken_back(far: Station, at_desk: int, server: Server) -> None:
    """Both tabs offer it until one begins; from then on it may have arrived."""
    other = far.tab(f"/runs/{at_desk}/desk")
    hanging: list[Route] = []
    far.page.context.route("**/api/me", lambda route: route.abort())
    far.page.context.route("**/orders", lambda route: hanging.append(route))
    far.page.evaluate("leadline.isLost = () => true")
    _done(far, "ANA")
    counts(other, 1)
    other.keyboard.press("k")
    expect(other.get_by_role("button", name="Take back")).to_be_visible()
    far.page.context.unroute("**/api/me")
    until(lambda: bool(hanging), other)
    expect(other.get_by_role("button", name="Take back")).to_have_count(0)
    expect(rows(other)).to_contain_text(re.compile("being sent|it may have arrived already"))
    hanging[0].continue_()
    counts(other, 0)
    assert server.marked(at_desk) == ["out/1"]


def test_a_tab_that_died_while_it_sent_holds_the_others_up_for_seconds_only(
    far: Station, at_desk: int, server: Server
) -> None:
    hanging: list[Route] = []
    far.page.route("**/orders", lambda route: hanging.append(route))
    far.page.evaluate("leadline.isLost = () => true")
    _done(far, "ANA")
    until(lambda: bool(hanging), far.page)
    other = far.tab(f"/runs/{at_desk}/desk")
    far.page.close()
    counts(other, 0)
    assert server.marked(at_desk) == ["out/1"]
    far.page = other
