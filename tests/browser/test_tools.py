"""Tools by keyboard at two stations: taken, handed over, lost, accounted for at the end."""

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.server import Server
from tests.browser.station import AT_ONCE_MS, NewStation, Station

pytestmark = pytest.mark.browser


def _enter(there: Station, *typed: str) -> None:
    """O, then into each field what is typed there, then Enter."""
    there.next_press()
    page = there.page
    page.keyboard.press("o")
    expect(page.locator("#tool-which")).to_be_focused()
    for number, text in enumerate(typed):
        if number:
            page.keyboard.press("Tab")
        page.keyboard.type(text)
    page.keyboard.press("Enter")


def _row(page: Page, tool: str) -> Locator:
    return page.locator(f'#tools tr:has(th:text-is("{tool}"))')


def test_a_hand_over_is_o_and_a_few_letters_and_shows_at_once_elsewhere(server: Server, station: NewStation) -> None:
    run = server.run("shed", "0:05:00")
    here, there = station(), station()
    page = here.open(f"/runs/{run}/desk")
    board, mine = there.open(f"/runs/{run}/lead"), there.tab(f"/runs/{run}/list/BEN")
    page.keyboard.press("1")
    _enter(here, "s", "t", "A")
    expect(_row(board, "saw")).to_contain_text("ANA has it since 00:05", timeout=AT_ONCE_MS)
    expect(page.locator("#tool-move")).not_to_have_attribute("open", "")
    expect(here.band("ANA")).to_be_focused()
    _enter(here, "s", "h", "B")
    expect(_row(board, "saw")).to_contain_text("BEN has it", timeout=AT_ONCE_MS)
    expect(mine.locator("#tools")).to_contain_text("You have: saw", timeout=AT_ONCE_MS)
    expect(here.band("ANA")).to_contain_text("Needs saw: BEN has it; hand it over first")
    assert [each["body"]["how"] for each in server.events(run) if each["kind"] == "ToolMoved"] == ["taken", "handed"]


def test_a_move_typed_at_one_station_survives_what_another_enters(server: Server, station: NewStation) -> None:
    run = server.run("shed", "0:05:00")
    there = station()
    page = there.open(f"/runs/{run}/desk")
    page.keyboard.press("o")
    page.locator("#tool-how").select_option("left")
    page.locator("#tool-where").click()
    page.keyboard.type("under the ")
    server.order(run, "tool", tool="file", how="taken", person="BEN")
    expect(_row(page, "file")).to_contain_text("BEN has it", timeout=AT_ONCE_MS)
    page.keyboard.type("roof")
    expect(page.locator("#tool-where")).to_have_value("under the roof")
    expect(page.locator("#tool-how")).to_have_value("left")
    page.keyboard.press("Enter")
    expect(_row(page, "saw")).to_contain_text("left at under the roof", timeout=AT_ONCE_MS)


def test_a_lost_tool_is_accounted_for_before_the_run_ends(server: Server, station: NewStation) -> None:
    run = server.run("shed", "0:10:00")
    server.order(run, "tool", tool="saw", how="taken", person="ANA")
    server.order(run, "tool", tool="file", how="taken", person="BEN")
    here, there = station(), station()
    page = here.open(f"/runs/{run}/desk")
    board = there.open(f"/runs/{run}/lead")
    _enter(here, "f", "los", "", "", "fell between the boards")
    expect(_row(board, "file")).to_contain_text("LOST", timeout=AT_ONCE_MS)
    expect(page.locator("#back")).to_be_hidden()
    for step in ("cut/1", "trim/1"):
        server.mark(run, step)
    for each in (page, board):
        expect(each.locator("#back")).to_contain_text("Not back: 2 tools", timeout=AT_ONCE_MS)
    server.mark(run, "home/1")
    page.get_by_text("End the run", exact=True).click()
    expect(page.locator("#end-run")).to_contain_text("Not yet: saw (ANA has it")
    page.get_by_label("How it ends").fill("door shut")
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("Not back: saw (ANA has it")
    page.keyboard.press("Escape")
    board.get_by_role("button", name="saw: Stowed").press("Enter")
    expect(page.locator("#back")).to_contain_text("Not back: 1 tool", timeout=AT_ONCE_MS)
    page.locator("#back summary").press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.type("under the floor; the owner knows")
    page.keyboard.press("Enter")
    for each in (page, board):
        expect(each.locator("#back")).to_contain_text("All tools are back.", timeout=AT_ONCE_MS)
    here.next_press()
    page.get_by_label("How it ends").fill("door shut")
    page.keyboard.press("Enter")
    expect(page.locator(".ended")).to_be_visible()
    expect(board.locator(".ended")).to_be_visible()
    expect(_row(board, "file")).to_contain_text("left outside for good")


def test_the_forms_of_tools_work_without_script(server: Server, station: NewStation) -> None:
    run = server.run("shed", "0:05:00")
    there = station(script=False)
    page = there.open(f"/runs/{run}/desk", live=False)
    page.get_by_role("button", name="saw: ANA takes it").click()
    expect(_row(page, "saw")).to_contain_text("ANA has it")
    page.locator("#tool-move > summary").click()
    page.locator("#tool-which").select_option("saw")
    page.locator("#tool-how").select_option("left")
    page.locator("#tool-where").fill("ladder")
    page.get_by_role("button", name="Enter the move").click()
    expect(_row(page, "saw")).to_contain_text("left at ladder by ANA")
