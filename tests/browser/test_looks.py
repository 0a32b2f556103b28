"""What is seen at once and in words, whatever the colours; what every page has in common is `test_seen_by_everyone`."""

import pytest
from playwright.sync_api import expect

from tests.browser.looking import AXE, violations
from tests.browser.server import Server
from tests.browser.station import NewStation

pytestmark = pytest.mark.browser

STATES = ("waiting", "ready", "under way", "done", "put off", "not needed")


def test_the_lead_board_answers_without_scrolling(demo: Server, station: NewStation) -> None:
    page = station(demo).open("/runs/1/lead")
    heads = ("Team, against plan", "Finish", "Room before the limit", "Who waits for whom")
    answers = [page.get_by_role("heading", name=name, exact=True) for name in heads]
    for answer in (*answers, page.locator(".figures .big").nth(2), page.locator(".waiting tbody tr").first):
        place = answer.bounding_box()
        assert place is not None
        assert place["y"] + place["height"] <= 900
    assert page.evaluate("scrollY") == 0


def test_two_bands_stand_in_the_first_window_of_the_desk_and_a_digit_brings_each_other_one(
    demo: Server, station: NewStation
) -> None:
    there = station(demo)
    there.open("/runs/1/desk")
    for digit, person in enumerate(("EV1", "EV2", "ARM", "GROUND"), start=1):
        if person in {"ARM", "GROUND"}:
            there.page.keyboard.press(str(digit))
        for shown in (there.band(person).locator("div.now .text"), there.band(person).locator(".buttons")):
            place = shown.bounding_box()
            assert place is not None
            assert place["y"] + place["height"] <= 900, f"{person} is below the window"
            assert place["y"] >= 0


def test_every_state_is_in_words_when_colours_are_taken_away(demo: Server, station: NewStation) -> None:
    there = station(demo)
    there.page.emulate_media(forced_colors="active")
    page = there.open("/runs/1/desk")
    expect(there.band("EV1").locator(".who")).to_contain_text("behind")
    expect(there.band("ARM").locator(".who")).to_contain_text("ahead")
    expect(there.band("EV2").locator("div.now")).to_contain_text("waiting")
    expect(there.band("ARM").locator("div.now")).to_contain_text("HOLD")
    expect(there.band("ARM").locator("div.now")).to_contain_text("EV2: go 01:43:20")
    expect(page.locator("#link")).to_contain_text("Live")
    there.open("/runs/1/list/EV1")
    steps = page.locator(".list-steps li").all_inner_texts()
    assert steps
    assert all(any(state in text for state in STATES) for text in steps)
    assert {"done", "under way", "waiting"} <= {state for text in steps for state in STATES if state in text}
    there.open("/runs/1/lead")
    expect(page.locator(".offers")).to_contain_text("Not now: waits for")
    expect(page.locator(".holds")).to_contain_text("waiting now")


@pytest.mark.parametrize("path", ["/", "/runs/1/desk", "/runs/1/lead", "/runs/1/log"])
def test_the_theme_is_kept_from_page_to_page_and_switched_by_its_button(
    demo: Server, station: NewStation, path: str
) -> None:
    there = station(demo)
    page = there.open(path)
    expect(page.locator("html")).to_have_attribute("data-theme", "dark")
    page.get_by_role("button", name="Light or dark").click()
    expect(page.locator("html")).to_have_attribute("data-theme", "light")
    page.reload()
    expect(page.locator("html")).to_have_attribute("data-theme", "light")


def test_the_page_at_twice_the_zoom_keeps_its_main_button_in_sight(demo: Server, station: NewStation) -> None:
    there = station(demo, width=720)
    there.page.set_viewport_size({"width": 720, "height": 450})
    there.open("/runs/1/desk")
    there.page.keyboard.press("3")
    button = there.band("ARM").get_by_role("button", name="EV1 is go")
    button.scroll_into_view_if_needed()
    covered = button.evaluate(
        "each => { const box = each.getBoundingClientRect();"
        " return !each.contains(document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2)); }"
    )
    assert not covered, "the bar lies over the button"


def test_axe_finds_nothing_in_a_refusal_in_the_list_of_keys_and_in_an_ended_run(
    server: Server, station: NewStation
) -> None:
    run = server.run("relay", "0:04:00")
    there = station()
    page = there.open(f"/runs/{run}/desk")
    page.evaluate(AXE)
    there.done("CHI").click()
    expect(page.get_by_role("alert")).to_be_visible()
    found = violations(page)
    page.keyboard.press("Escape")
    page.keyboard.press("?")
    found += violations(page)
    page.keyboard.press("Escape")
    server.order(run, "end", reason="called in")
    expect(page.locator(".ended")).to_be_visible()
    assert not [*found, *violations(page)]


def test_a_refusal_fits_a_narrow_screen(server: Server, station: NewStation) -> None:
    run = server.run("relay", "0:04:00")
    there = station(width=390)
    page = there.open(f"/runs/{run}/desk")
    there.done("CHI").click()
    expect(page.get_by_role("alert")).to_be_visible()
    because = page.get_by_label("The flight lead orders it, because").bounding_box()
    assert because is not None
    assert because["x"] + because["width"] <= 390
    assert page.evaluate("document.scrollingElement.scrollWidth") <= 390
