"""Durations over past runs in Chromium: both pages pass axe, fit every width, and work without script."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

from tests.browser.looking import looked_through, too_wide
from tests.browser.server import Server
from tests.browser.station import NewStation

pytestmark = pytest.mark.browser

MARKS = {"out/1": "0:06:30", "out/2": "0:12:40", "cut/1": "0:17:30", "sweep/1": "0:20:00"}


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server of its own, since a better revision is stored here: it has one run, which was ended."""
    with Server(tmp_path_factory.mktemp("durations")) as started:
        run = started.run("relay", "0:40:00")
        for step, at in MARKS.items():
            started.mark(run, step, at, **({"voltage": 0.0} if step == "cut/1" else {}))
        started.order(run, "end", reason="enough")
        yield started


@pytest.fixture
def page(told: Server, station: NewStation) -> Page:
    """The durations of the revision that the run was of, whichever was stored since."""
    revision = str(told.ask("/runs/1")["revision"])
    return station(told).open(f"/procedures/{revision}/durations", live=False)


def clean(page: Page) -> list[str]:
    """What axe finds, with folded parts open."""
    page.evaluate("for (const each of document.querySelectorAll('details')) each.open = true")
    return looked_through(page)


def test_both_pages_pass_axe_and_fit_every_width(page: Page) -> None:
    expect(page.locator(".took-table")).to_contain_text("Walk to the box")
    assert not clean(page)
    assert not too_wide(page)
    page.get_by_role("button", name="Show the difference").click()
    expect(page.get_by_role("heading", name="Better durations for")).to_be_visible()
    assert not clean(page)
    assert not too_wide(page)


def test_a_better_revision_is_stored_by_the_keyboard_alone(page: Page) -> None:
    box = page.get_by_role("checkbox", name="out/2")
    expect(box).to_be_checked()
    box.focus()
    page.keyboard.press("Space")
    expect(box).not_to_be_checked()
    page.get_by_role("button", name="Show the difference").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("region", name="The difference")).to_contain_text("+      - {do: Open the door, takes: [")
    expect(page.get_by_role("region", name="The difference")).not_to_contain_text("+      - {do: Walk to the box")
    page.get_by_role("button", name="Store as a new revision").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Nominal timeline")).to_be_visible()


def test_all_of_it_works_without_script(told: Server, station: NewStation) -> None:
    revision = str(told.ask("/runs/1")["revision"])
    page = station(told, script=False).open(f"/procedures/{revision}/durations", live=False)
    page.get_by_label("Rehearsals", exact=True).check()
    page.get_by_role("button", name="Show", exact=True).click()
    assert "kind=rehearsal" in page.url
    expect(page.locator(".asked")).to_contain_text("runs asked")
    page.get_by_role("button", name="Show the difference").click()
    expect(page.get_by_role("button", name="Store as a new revision")).to_be_visible()
    page.get_by_role("link", name="Back to the durations").click()
    expect(page.get_by_label("Rehearsals", exact=True)).to_be_checked()


def test_a_printed_page_has_its_figures_and_no_buttons(page: Page) -> None:
    page.emulate_media(media="print")
    expect(page.locator(".took-table")).to_be_visible()
    expect(page.locator(".asked")).to_be_visible()
    expect(page.get_by_role("button", name="Show the difference")).to_be_hidden()
    expect(page.locator(".took-table input").first).to_be_hidden()
