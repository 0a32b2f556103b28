"""A press counts once, a refusal is a sentence, and what was typed is never lost."""

import pytest
from playwright.sync_api import expect

from tests.browser.server import Server
from tests.browser.station import AT_ONCE_MS, NewStation, Station

pytestmark = pytest.mark.browser

AtDesk = tuple[int, Station]


@pytest.fixture
def at_desk(server: Server, station: NewStation) -> AtDesk:
    """A run whose first step is under way, shown on the Desk of one station."""
    run = server.run("relay", "0:04:00")
    there = station()
    there.open(f"/runs/{run}/desk")
    return run, there


def _note(there: Station) -> None:
    """Write a note and wait until it is logged: what was pressed before it has been answered."""
    end = there.page.locator("#desk-end")
    end.get_by_label("Note").fill("all said")
    with there.page.expect_response("**/orders"):
        end.get_by_role("button", name="Add the note").click()


def test_a_double_click_is_one_mark(server: Server, at_desk: AtDesk) -> None:
    run, there = at_desk
    button = there.done("ANA")
    button.dblclick()
    expect(there.band("ANA").locator(".now .text")).to_have_text("Walk to the box")
    _note(there)
    assert server.marked(run) == ["out/1"]


def test_a_second_click_that_meets_the_next_step_is_still_the_same_press(server: Server, at_desk: AtDesk) -> None:
    run, there = at_desk
    place = there.done("ANA").bounding_box()
    assert place is not None
    x, y = place["x"] + place["width"] / 2, place["y"] + place["height"] / 2
    there.page.mouse.click(x, y)
    expect(there.band("ANA").locator(".now .text")).to_have_text("Walk to the box", timeout=AT_ONCE_MS)
    there.page.mouse.click(x, y, click_count=2)
    _note(there)
    assert server.marked(run) == ["out/1"]


def test_a_double_enter_is_one_mark_and_a_later_enter_is_the_next(server: Server, at_desk: AtDesk) -> None:
    run, there = at_desk
    there.page.keyboard.press("1")
    there.page.keyboard.press("Enter")
    expect(there.band("ANA").locator(".now .text")).to_have_text("Walk to the box", timeout=AT_ONCE_MS)
    there.page.keyboard.press("Enter")
    _note(there)
    assert server.marked(run) == ["out/1"]
    there.page.keyboard.press("Escape")
    there.next_press()
    there.page.keyboard.press("1")
    there.page.keyboard.press("Enter")
    expect(there.band("ANA").locator("[data-undo]")).to_contain_text("Walk to the box")
    assert server.marked(run) == ["out/1", "out/2"]


def test_an_enter_held_down_is_one_mark(server: Server, at_desk: AtDesk) -> None:
    run, there = at_desk
    there.done("ANA").focus()
    there.page.keyboard.down("Enter")
    for _ in range(8):
        there.page.wait_for_timeout(100)
        there.page.keyboard.down("Enter")  # A second "down" is a repeat.
    there.page.keyboard.up("Enter")
    _note(there)
    assert server.marked(run) == ["out/1"]


def test_a_refused_mark_says_why_until_escape_closes_it(server: Server, at_desk: AtDesk) -> None:
    run, there = at_desk
    there.band("CHI").get_by_label("voltage").fill("1")
    there.done("CHI").click()
    said = there.page.get_by_role("alert")
    expect(said).to_contain_text("“Pull the breaker” (cut/1) must wait")
    expect(said).to_contain_text("Walk to the box")
    expect(there.band("CHI").get_by_label("voltage")).to_have_value("1")
    server.order(run, "note", reason="somebody else writes")
    expect(there.page.locator("[data-undo]")).to_have_count(0)
    server.mark(run, "out/1")
    expect(there.band("ANA").locator("[data-undo]")).to_be_visible(timeout=AT_ONCE_MS)
    expect(said).to_be_visible()
    there.page.keyboard.press("Escape")
    expect(said).to_have_count(0)
    assert server.marked(run) == ["out/1"]


def test_nothing_moves_under_the_hand_when_a_mark_is_refused(at_desk: AtDesk) -> None:
    there = at_desk[1]
    before = there.done("CHI").bounding_box()
    there.done("CHI").click()
    expect(there.page.get_by_role("alert")).to_be_visible()
    assert there.done("CHI").bounding_box() == before
    there.page.keyboard.press("Escape")
    expect(there.page.get_by_role("alert")).to_have_count(0)
    assert there.done("CHI").bounding_box() == before


def test_the_page_stays_and_says_it_again_after_a_refusal_was_closed(server: Server, at_desk: AtDesk) -> None:
    run, there = at_desk
    done = there.done("CHI")
    done.click()
    said = there.page.get_by_role("alert")
    expect(said).to_contain_text("must wait")
    said.get_by_role("button", name="Close").click()
    expect(said).to_have_count(0)
    there.page.evaluate("window.stillThere = true")
    server.mark(run, "out/1")
    expect(there.band("ANA").locator("[data-undo]")).to_be_visible(timeout=AT_ONCE_MS)
    there.next_press()
    done.click()
    expect(said).to_contain_text("must wait")
    assert there.page.evaluate("window.stillThere"), "the page was loaded anew"


def test_the_lead_may_order_a_refused_mark_with_a_reason(server: Server, at_desk: AtDesk) -> None:
    run, there = at_desk
    there.band("CHI").get_by_label("voltage").fill("1,5")
    there.done("CHI").click()
    said = there.page.get_by_role("alert")
    because = said.get_by_label("The flight lead orders it, because")
    because.press_sequentially("breaker pulled ")
    server.mark(run, "out/1")
    expect(there.band("ANA").locator("[data-undo]")).to_be_visible(timeout=AT_ONCE_MS)
    there.page.keyboard.type("early")
    expect(because).to_have_value("breaker pulled early")
    there.page.keyboard.press("Enter")
    expect(there.band("CHI").locator("[data-undo]")).to_contain_text("Pull the breaker")
    expect(said).to_have_count(0)
    body = server.events(run)[-1]["body"]
    assert (body["step"], body["values"], body["ordered_because"]) == (
        "cut/1",
        [["voltage", 1.5]],
        "breaker pulled early",
    )


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("voltage", "twelve", "“voltage” needs a number, not “twelve”."),
        ("Elapsed time of the call", "half past", "half past"),
        ("Elapsed time of the call", "9:00:00", "09:00:00 has not come yet"),
    ],
)
def test_what_is_typed_wrong_is_refused_in_words_and_stays(
    server: Server, station: NewStation, field: str, typed: str, sentence: str
) -> None:
    run = server.run("relay", "0:12:00")
    for step, at in (("out/1", "0:05"), ("out/2", "0:10")):
        server.mark(run, step, at)
    there = station()
    there.open(f"/runs/{run}/desk")
    place = there.band("CHI").get_by_label(field)
    place.fill(typed)
    place.press("Enter")
    expect(there.page.get_by_role("alert")).to_contain_text(sentence)
    expect(place).to_have_value(typed)
    assert "cut/1" not in server.marked(run)


def test_a_call_heard_late_is_marked_when_it_happened(server: Server, at_desk: AtDesk) -> None:
    run, there = at_desk
    there.page.keyboard.press("1")
    there.page.keyboard.press("t")
    there.page.keyboard.type("0:03:20")
    there.page.keyboard.press("Enter")
    expect(there.band("ANA").locator("[data-undo]")).to_contain_text("done 00:03:20")
    assert server.events(run)[-1]["at_s"] == 200
