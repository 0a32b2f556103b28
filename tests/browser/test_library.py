"""The page of all runs in a browser: found by the keyboard, taken along, brought in, and sound at every width."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.looking import AXE, WIDTHS, violations
from tests.browser.server import Server
from tests.browser.station import NewStation, Station

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def filled(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Station, Server, Path]]:
    """A server with some runs, one of them imported from another; the file of that one."""
    made, kept = tmp_path_factory.mktemp("made"), tmp_path_factory.mktemp("kept")
    file = made / "larkspur-outing-2.jsonl"
    with Server(made, "demo") as other, Server(kept) as server:
        there = Station(browser, other.address)
        there.open("/runs", live=False)
        with there.page.expect_download() as coming:
            there.page.get_by_role("link", name="JSON Lines of run 1").click()
        coming.value.save_as(file)
        there.context.close()
        for _ in range(3):
            run = server.run("relay")
            server.order(run, "end", reason="Storm")
        station = Station(browser, server.address)
        yield station, server, file
        station.context.close()
        assert not station.problems, "\n".join(station.problems)


def imported(filled: tuple[Station, Server, Path]) -> Page:
    """The page after the file was sent; a second time it is there already."""
    station, _, file = filled
    page = station.open("/runs", live=False)
    page.get_by_label("The file of a run").set_input_files(file)
    page.get_by_role("button", name="Check and import").click()
    expect(page.get_by_role("status")).to_contain_text("chain whole")
    return page


def test_a_run_is_taken_from_one_server_and_brought_to_another(filled: tuple[Station, Server, Path]) -> None:
    page = imported(filled)
    row = page.get_by_role("row").filter(has_text="larkspur-outing-2.jsonl")
    expect(row).to_contain_text("imported")
    row.get_by_role("link", name="Desk").click()
    expect(page.locator("#bar")).to_contain_text("A record: imported")
    expect(page.locator("main button")).to_have_count(1)  # Show the Desk as it stood.
    elapsed = page.locator(".clock").inner_text()
    page.locator("#link.live").wait_for()
    page.wait_for_timeout(2_500)
    assert page.locator(".clock").inner_text() == elapsed


def test_runs_are_found_with_the_keyboard_alone(filled: tuple[Station, Server, Path]) -> None:
    imported(filled)
    page = filled[0].open("/runs", live=False)
    page.get_by_label("Person").focus()
    page.keyboard.type("demo script")
    page.keyboard.press("Enter")
    page.wait_for_url("**person=demo+script**")
    expect(page.get_by_role("heading", name="1 run found")).to_be_visible()
    page.get_by_role("link", name="All runs").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="4 runs")).to_be_visible()


@pytest.mark.parametrize("path", ["/runs", "/runs?person=nobody", "/runs?from=soon", "/runs/4/desk", "/runs/4/log"])
def test_axe_finds_nothing_and_nothing_is_wider_than_the_screen(
    filled: tuple[Station, Server, Path], path: str
) -> None:
    imported(filled)
    station = filled[0]
    page = station.open(path, live=False)
    page.evaluate(AXE)
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), width
        for theme in ("dark", "light") if width in (390, 1440) else ():
            page.evaluate("theme => { document.documentElement.dataset.theme = theme }", theme)
            assert violations(page) == [], (width, theme)
    page.set_viewport_size({"width": 1440, "height": 900})
    station.problems = [each for each in station.problems if "422" not in each]


def test_on_paper_the_forms_are_gone_and_the_runs_stay(filled: tuple[Station, Server, Path]) -> None:
    page = imported(filled)
    page.emulate_media(media="print")
    expect(page.get_by_label("Person")).to_be_hidden()
    expect(page.get_by_role("button", name="Check and import")).to_be_hidden()
    expect(page.get_by_role("row").filter(has_text="imported").first).to_be_visible()
    page.emulate_media(media="screen")


def test_it_works_without_script(browser: Browser, filled: tuple[Station, Server, Path]) -> None:
    _, server, file = filled
    plain = Station(browser, server.address, script=False)
    page = plain.open("/runs", live=False)
    page.get_by_label("Kind").select_option("rehearsal")
    page.get_by_role("button", name="Find").click()
    expect(page.locator("h2").nth(1)).to_contain_text("found")
    page.get_by_label("The file of a run").set_input_files(file)
    page.get_by_role("button", name="Check and import").click()
    expect(page.locator(".notice")).to_contain_text("chain whole")
    plain.context.close()


def test_the_plan_gives_a_calendar_by_a_plain_form(station: NewStation, demo: Server) -> None:
    page = station(demo).open("/procedures/pump-changeout", live=False)
    page.get_by_label("As a calendar, zero in UTC").fill("2031-05-04T07:00:00")
    with page.expect_download() as coming:
        page.get_by_role("button", name="Make the calendar file").click()
    assert coming.value.suggested_filename == "pump-changeout-plan.ics"
    assert b"DTSTART:20310504T070000Z" in Path(coming.value.path()).read_bytes()
