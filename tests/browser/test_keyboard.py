"""Everything can be done with the keyboard alone. No test here touches a mouse."""

from collections.abc import Callable
from dataclasses import dataclass

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.server import Server
from tests.browser.station import AT_ONCE_MS, NewStation, Station

pytestmark = pytest.mark.browser

MOST_TABS = 120


@pytest.fixture
def desk(server: Server, station: NewStation) -> Station:
    """The Desk of a run where each person has a step that can be done."""
    run = server.run("relay", "0:12:00")
    for step, at in (("out/1", "0:05"), ("out/2", "0:10")):
        server.mark(run, step, at)
    there = station()
    there.open(f"/runs/{run}/desk")
    return there


def _press(page: Page, *keys: str) -> None:
    for key in keys:
        page.keyboard.press(key)


def _tab_to(page: Page, place: Locator) -> None:
    """Press Tab until it has the focus."""
    for _ in range(MOST_TABS):
        if place.evaluate("each => each === document.activeElement"):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab does not reach {place}")


def test_digits_choose_a_band_by_its_place(desk: Station) -> None:
    for digit, person in (("2", "BEN"), ("3", "CHI"), ("1", "ANA")):
        _press(desk.page, digit)
        expect(desk.page.locator(".band.chosen")).to_have_attribute("aria-label", person)
        expect(desk.band(person)).to_be_focused()
    _press(desk.page, "9")
    expect(desk.page.locator(".band.chosen")).to_have_attribute("aria-label", "ANA")


def test_v_and_t_go_to_the_fields_and_escape_leaves_them(desk: Station) -> None:
    _press(desk.page, "3", "v")
    expect(desk.band("CHI").get_by_label("voltage")).to_be_focused()
    _press(desk.page, "1", "Escape")
    expect(desk.band("CHI").get_by_label("voltage")).to_have_value("1")
    expect(desk.band("CHI").get_by_label("voltage")).not_to_be_focused()
    _press(desk.page, "t")
    expect(desk.band("CHI").locator("[data-at]")).to_be_focused()
    _press(desk.page, "Escape", "2")
    expect(desk.page.locator(".band.chosen")).to_have_attribute("aria-label", "BEN")


def test_m_opens_more_ready_for_a_note_and_closes_it_again(desk: Station) -> None:
    _press(desk.page, "2", "m")
    more = desk.folded("BEN", "more")
    expect(more).to_have_attribute("open", "")
    expect(desk.band("BEN").get_by_label("Reason or note")).to_be_focused()
    desk.page.keyboard.type("broom is short")
    _press(desk.page, "Enter")
    expect(desk.band("BEN").get_by_label("Reason or note")).to_have_value("")
    _press(desk.page, "Escape", "m")
    expect(more).not_to_have_attribute("open", "")


def test_a_question_mark_lists_the_keys_and_escape_closes_the_list(desk: Station) -> None:
    _press(desk.page, "?")
    expect(desk.page.get_by_role("dialog")).to_contain_text("undo the chosen band's last mark")
    _press(desk.page, "Escape")
    expect(desk.page.get_by_role("dialog")).to_have_count(0)
    _press(desk.page, "2")
    expect(desk.page.locator(".band.chosen")).to_have_attribute("aria-label", "BEN")


def test_letters_visit_the_pages_of_the_run(desk: Station) -> None:
    for key, title in (("l", "Lead board"), ("y", "ANA"), ("g", "Log"), ("p", "Plan"), ("d", "Desk")):
        _press(desk.page, key)
        expect(desk.page).to_have_title(f"{title} · Relay box swap · Leadline")


def test_u_undoes_the_chosen_bands_last_mark(desk: Station) -> None:
    _press(desk.page, "2", "Enter")
    expect(desk.band("BEN").locator("[data-undo]")).to_contain_text("Sweep it clean")
    desk.next_press()
    _press(desk.page, "u")
    expect(desk.band("BEN").locator(".now .text")).to_have_text("Sweep it clean")


def test_a_letter_typed_into_a_field_is_no_key(desk: Station) -> None:
    _press(desk.page, "3", "m")
    desk.page.keyboard.type("1 glad plug? dumb try, u v")
    expect(desk.band("CHI").get_by_label("Reason or note")).to_have_value("1 glad plug? dumb try, u v")
    expect(desk.page).to_have_title("Desk · Relay box swap · Leadline")
    expect(desk.page.locator(".band.chosen")).to_have_attribute("aria-label", "CHI")


def test_the_keys_and_the_theme_switch_stay_when_the_bar_changes(server: Server, station: NewStation) -> None:
    run = server.run("relay", "0:12:00")
    there = station()
    page = there.open(f"/runs/{run}/desk")
    expect(page.locator(".bar .lead")).to_contain_text("behind")
    server.mark(run, "out/1", "0:05")
    server.mark(run, "out/2", "0:10")
    expect(page.locator(".bar .lead")).to_contain_text("on plan", timeout=AT_ONCE_MS)
    expect(page.get_by_role("button", name="Keys")).to_be_visible()
    expect(page.get_by_role("button", name="Light or dark")).to_be_visible()


@dataclass
class _Outing:
    """One person at a keyboard, and another station whose Log and Lead board are watched."""

    desk: Station
    log: Page
    board: Page

    def seen(self, words: str) -> None:
        """The other station's log says it at once."""
        expect(self.log.locator(".log > li").first.locator(".what")).to_contain_text(words, timeout=AT_ONCE_MS)
        self.desk.next_press()

    def band(self, digit: str, *keys: str) -> None:
        _press(self.desk.page, "Escape", digit, *keys)

    def write(self, place: Locator, text: str) -> None:
        """Tab to a field, type, press Enter."""
        _tab_to(self.desk.page, place)
        self.desk.page.keyboard.type(text)
        _press(self.desk.page, "Enter")

    def visit(self, key: str, page: str) -> None:
        _press(self.desk.page, "Escape", key)
        self.desk.page.wait_for_url(f"**/{page}")
        self.desk.page.locator("#link.live").wait_for()


def _begin(there: Station) -> int:
    """From the Home page: a rehearsal whose clock has run for twelve minutes."""
    page = there.open("/", live=False)
    card = page.locator(".cards > li", has_text="Relay box swap")
    _tab_to(page, card.get_by_label("already running for"))
    page.keyboard.type("0:12:00")
    _press(page, "Enter")
    page.locator("#link.live").wait_for()
    return int(page.url.split("/")[-2])


def _first_steps(outing: _Outing) -> None:
    for person in ("ANA", "BEN"):
        outing.band("1", "t")
        outing.desk.page.keyboard.type("0:01:00")
        _press(outing.desk.page, "Enter")
        outing.seen(f"{person} acknowledges the warning of “Open the door”")
    for text, at in (("Open the door", "0:05:00"), ("Walk to the box", "0:10:00")):
        outing.band("1", "t")
        outing.desk.page.keyboard.type(at)
        _press(outing.desk.page, "Enter")
        outing.seen(f"Done: “{text}”")
    outing.band("3", "m")
    outing.desk.page.keyboard.type("glove check passed")
    _press(outing.desk.page, "Enter")
    outing.seen("Note on “Pull the breaker” (cut/1): glove check passed")


def _lead_decides(outing: _Outing) -> None:
    outing.visit("l", "lead")
    page = outing.desk.page
    _tab_to(page, page.get_by_role("button", name="Give to BEN"))
    _press(page, "Enter")
    outing.seen("Taken: “Photograph the rail”, BEN")
    expect(outing.board.locator(".offers")).to_contain_text("Taken")
    _tab_to(page, page.get_by_role("button", name="Take back"))
    _press(page, "Enter")
    outing.seen("Given back: “Photograph the rail”")
    _tab_to(page, page.locator("#each-put-off > summary"))
    _press(page, "Enter")
    outing.write(page.locator("#off-sweep"), "wind")
    outing.seen("Put off: “Sweep the step”. wind")
    outing.write(page.locator(".put-off").get_by_label("Put back, because"), "calm again")
    outing.seen("Put back: “Sweep the step”. calm again")
    outing.visit("d", "desk")


def _cut_and_swap(outing: _Outing) -> None:
    outing.band("3", "v")
    outing.desk.page.keyboard.type("1.2")
    _press(outing.desk.page, "Enter")
    outing.seen("Done: “Pull the breaker” (cut/1): voltage 1.2 V")
    outing.band("3", "Enter")
    outing.seen("Done: “Call it dead”")
    hold = ("BEN is go", "CHI is go", "Done: “Stop. Is the box free”")
    for words in hold:
        outing.band("1", "Enter")
        outing.seen(words)
    outing.band("1", "u")
    outing.seen("Undone: “Stop. Is the box free”")
    # A hold that is reopened asks for each go anew.
    for words in (*hold, "Done: “Lift the new box in”"):
        outing.band("1", "Enter")
        outing.seen(words)


def _end(outing: _Outing) -> None:
    for digit, words in (("2", "Done: “Sweep it clean”"), ("1", "Done: “Shut the door”")):
        outing.band(digit, "Enter")
        outing.seen(words)
    page = outing.desk.page
    expect(outing.board.locator(".people")).to_contain_text("Nothing left")
    _tab_to(page, page.locator("#end-run summary"))
    _press(page, "Enter")
    outing.write(page.get_by_label("How it ends"), "box swapped, all in")
    outing.seen("The run ended: box swapped, all in")


def test_a_whole_run_is_led_by_keyboard_alone_and_another_station_sees_it_all(
    own_server: Server, station: NewStation
) -> None:
    """On a server with no other runs: each on the Home page is some presses of Tab more."""
    server = own_server
    here, there = station(server), station(server)
    run = _begin(here)
    outing = _Outing(here, there.tab(f"/runs/{run}/log"), there.tab(f"/runs/{run}/lead"))
    parts: tuple[Callable[[_Outing], None], ...] = (_first_steps, _lead_decides, _cut_and_swap, _end)
    for part in parts:
        part(outing)
    for page in (here.page, outing.board):
        expect(page.locator(".bar")).to_contain_text("The run ended at 00:12:")
        expect(page.get_by_role("button", name="Done", exact=True)).to_have_count(0)
    assert sorted(server.marked(run)) == sorted(
        ["out/1", "out/2", "cut/1", "cut/2", "swap/1", "swap/1", "swap/2", "sweep/1", "home/1"]
    )
