"""What shows a kept press passes axe, fits every width, and moves nothing under the hand."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import expect

from tests.browser.cable import Cable
from tests.browser.kept import counts, has_cards, is_lost, row
from tests.browser.looking import AXE, WIDTHS, violations
from tests.browser.server import Server
from tests.browser.station import NewStation, Station

pytestmark = pytest.mark.browser


@pytest.fixture
def cable(demo: Server) -> Iterator[Cable]:
    with Cable(demo.port) as laid:
        yield laid


@pytest.fixture
def far(cable: Cable, station: NewStation) -> Station:
    """A station at the demo whose link was just cut; its page may complain of it."""
    there = station(cable)
    there.server_down = True
    page = there.open("/runs/1/desk")
    page.evaluate(AXE)
    has_cards(page)
    cable.cut()
    is_lost(page)
    return there


def _keep(there: Station) -> None:
    """A step that goes on in its band, and one of several actions."""
    for person in ("EV1", "EV2"):
        there.band(person).locator("[data-main]:visible").click()
        there.next_press()
    counts(there.page, 2)


def test_the_bar_and_what_is_under_the_hand_stay_where_they_are_when_the_first_press_is_kept(far: Station) -> None:
    bar, band, button = far.page.locator(".bar"), far.band("EV1"), far.band("EV1").locator("[data-main]:visible")
    before = [bar.bounding_box(), band.bounding_box()]
    button.click()
    counts(far.page, 1)
    after = [bar.bounding_box(), band.bounding_box()]
    for was, now in zip(before, after, strict=True):
        assert was is not None
        assert now is not None
        assert abs(was["y"] - now["y"]) < 2
    assert before[0] is not None
    assert after[0] is not None
    assert abs(before[0]["height"] - after[0]["height"]) < 2


def test_axe_finds_nothing_in_what_is_kept_in_either_theme_wide_or_narrow(far: Station, demo: Server) -> None:
    _keep(far)
    page = far.page
    page.keyboard.press("k")
    expect(page.locator("#outbox")).to_be_visible()
    page.evaluate("for (const each of document.querySelectorAll('.spare details')) each.open = true")
    found: dict[str, list[str]] = {}
    for width in (1440, 390):
        page.set_viewport_size({"width": width, "height": 900})
        for theme in ("dark", "light"):
            page.evaluate("theme => { document.documentElement.dataset.theme = theme }", theme)
            found[f"{theme} {width}"] = violations(page)
    assert not any(found.values()), "\n".join(f"{at}: {line}" for at, lines in found.items() for line in lines)
    assert demo.ask("/runs/1")["ended_s"] is None


def test_what_is_kept_fits_every_width(far: Station) -> None:
    _keep(far)
    far.page.keyboard.press("k")
    too_wide = {}
    for width in WIDTHS:
        far.page.set_viewport_size({"width": width, "height": 900})
        needs = far.page.evaluate("document.scrollingElement.scrollWidth")
        place = far.page.locator("#outbox").bounding_box()
        assert place is not None
        if needs > width or place["x"] < 0 or place["x"] + place["width"] > width:
            too_wide[width] = needs
    assert not too_wide


def test_every_state_of_a_kept_press_is_in_words(far: Station) -> None:
    _keep(far)
    far.page.emulate_media(forced_colors="active")
    far.page.keyboard.press("k")
    expect(row(far.page, "EV1")).to_contain_text("waiting")
    expect(far.band("EV1")).to_contain_text("kept here, not yet acknowledged")
    expect(far.page.locator("#kept")).to_have_text("kept here, 2 waiting")
