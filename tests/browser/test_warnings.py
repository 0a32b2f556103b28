"""A warning is acknowledged by each person before the step can be marked; a no-go is given and lifted by keyboard."""

import pytest
from playwright.sync_api import expect

from tests.browser.looking import AXE, WIDTHS, violations
from tests.browser.server import Server
from tests.browser.station import AT_ONCE_MS, NewStation, Station

pytestmark = pytest.mark.browser

AtDesk = tuple[int, Station]


def _all_at_once(server: Server) -> int:
    """A run whose next step has a warning, a hold, a count, three values and a second person."""
    run = server.run("rig", "0:04:00")
    server.mark(run, "screws/1", turns=15)
    server.mark(run, "screws/2")
    server.mark(run, "wire/1", pull=3)
    server.mark(run, "wire/2")
    server.order(run, "confirm", step="wire/2", person="CHI")
    for person in ("ANA", "BEN"):
        server.order(run, "go", step="watch/1", person=person)
    server.mark(run, "watch/1")
    return run


@pytest.fixture
def at_desk(server: Server, station: NewStation) -> AtDesk:
    run = _all_at_once(server)
    there = station()
    there.open(f"/runs/{run}/desk")
    return run, there


def test_enter_reads_the_warning_then_gives_each_go_then_counts(server: Server, at_desk: AtDesk) -> None:
    run, there = at_desk
    there.page.keyboard.press("1")
    for words in ("ANA acknowledged", "BEN acknowledged", "ANA: go", "CHI: go", "1 of 4 done"):
        there.page.keyboard.press("Enter")
        expect(there.band("ANA")).to_contain_text(words)
        expect(there.band("BEN")).to_contain_text(words)
        there.next_press()
    kinds = [each["kind"] for each in server.events(run)][-5:]
    assert kinds == ["WarningAcknowledged", "WarningAcknowledged", "GoGiven", "GoGiven", "ActionsDone"]


def test_one_reads_ones_own_warning_on_ones_own_list(server: Server, at_desk: AtDesk, station: NewStation) -> None:
    run, there = at_desk
    tablet = station(width=768)
    tablet.open(f"/runs/{run}/list/BEN")
    expect(tablet.band("BEN")).to_contain_text("ANA has not acknowledged yet")
    tablet.band("BEN").get_by_role("button", name="I have read the warning").click()
    expect(there.band("ANA")).to_contain_text("BEN acknowledged", timeout=AT_ONCE_MS)
    body = server.events(run)[-1]["body"]
    assert body == {"step": "lift/1", "person": "BEN", "heard": False}


def test_n_opens_the_no_go_with_its_reason_and_enter_lifts_it_when_it_is_said_why(
    server: Server, at_desk: AtDesk
) -> None:
    run, there = at_desk
    there.reads("ANA", "ANA", "BEN")
    keys = there.page.keyboard
    keys.press("Escape")
    for key in ("1", "n"):
        keys.press(key)
    keys.type("the rail is bent")
    keys.press("Enter")
    expect(there.band("ANA")).to_contain_text("ANA: NO-GO")
    expect(there.band("ANA")).to_be_focused()
    expect(there.folded("ANA", "no-go")).not_to_have_attribute("open", "")
    there.next_press()
    keys.press("Enter")
    expect(there.band("ANA")).to_contain_text("CHI: go")
    there.next_press()
    keys.press("Enter")
    there.band("ANA").get_by_label("What lifts the no-go of ANA").fill("straightened")
    keys.press("Enter")
    expect(there.band("ANA")).to_contain_text("All are go.")
    assert server.events(run)[-1]["body"]["lifted_because"] == "straightened"


@pytest.mark.parametrize("page_name", ["desk", "list/ANA", "list/CHI"])
def test_a_band_with_everything_at_once_fits_each_width_and_axe_finds_nothing(
    server: Server, station: NewStation, page_name: str
) -> None:
    run = _all_at_once(server)
    server.order(run, "acknowledge", step="lift/1", person="ANA")
    server.order(run, "no-go", step="lift/1", person="CHI", reason="a bird sits on the frame")
    page = station().open(f"/runs/{run}/{page_name}")
    page.evaluate("for (const each of document.querySelectorAll('details')) each.open = true")
    page.evaluate(AXE)
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.scrollingElement.scrollWidth") <= width
    found = []
    for width in (1440, 390):
        page.set_viewport_size({"width": width, "height": 900})
        for theme in ("dark", "light"):
            page.evaluate("theme => { document.documentElement.dataset.theme = theme }", theme)
            found += violations(page)
    assert not found


def test_every_button_of_a_band_is_large_enough_for_a_finger(at_desk: AtDesk) -> None:
    page = at_desk[1].page
    small = page.evaluate(
        "[...document.querySelectorAll('.band button, .band summary')].filter(each => each.checkVisibility())"
        ".map(each => [each.textContent.trim(), each.getBoundingClientRect().height]).filter(each => each[1] < 44)"
    )
    assert small == []
