"""Deciding on the Lead board in a browser: trying, doing and dropping, putting off and back, beside other stations."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.kept import until
from tests.browser.server import Server
from tests.browser.station import AT_ONCE_MS, NewStation, Station

pytestmark = pytest.mark.browser

AXE = (Path(__file__).parents[1] / "vendor" / "axe.min.js").read_text(encoding="utf-8")
RULES = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "resultTypes": ["violations"],
}
MOST_TABS = 200
FIRST, SECOND = "ANA loses 15 min", "put off sweep"


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server of this module's own: its many runs would stand in the way on the Home page of the common one."""
    with Server(tmp_path_factory.mktemp("decisions")) as started:
        yield started


@pytest.fixture
def run(server: Server) -> int:
    """BEN stands at the sweeping, which may be put off, and on which the finish depends."""
    run = server.run("relay", "0:12:00")
    server.order(run, "revise", step="sweep/1", takes="50 min", reason="deep snow")
    for step, at in (("out/1", "0:05"), ("out/2", "0:10")):
        server.mark(run, step, at)
    return run


def what_if(page: Page) -> Locator:
    return page.locator("#lead-what_if")


def compared(page: Page, figure: str) -> list[str]:
    """The cells of one row: as it stands, and if so."""
    head = page.get_by_role("rowheader", name=figure, exact=True)
    return what_if(page).get_by_role("row").filter(has=head).locator("td").all_inner_texts()


def kinds(server: Server, run: int) -> list[str]:
    """What happened after the run was set up."""
    return [each["kind"] for each in server.events(run)][6:]


def tab_to(page: Page, place: Locator) -> None:
    """Press Tab until it has the focus."""
    for _ in range(MOST_TABS):
        if place.evaluate("each => each === document.activeElement"):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab does not reach {place}")


def type_into(page: Page, place: Locator, text: str) -> None:
    tab_to(page, place)
    page.keyboard.type(text)


def fits(page: Page) -> bool:
    return bool(page.evaluate("document.scrollingElement.scrollWidth <= innerWidth"))


def open_lead(there: Station, run: int, asked: str = "", live: bool = True) -> Page:
    return there.open(f"/runs/{run}/lead{asked}", live=live)


def test_a_change_is_tried_compared_and_done_with_the_keyboard_alone(
    server: Server, station: NewStation, run: int
) -> None:
    page = open_lead(station(), run)
    type_into(page, what_if(page).get_by_label("Try", exact=True), FIRST)
    page.keyboard.press("Enter")
    expect(what_if(page)).to_contain_text("Takes 17m")
    page.locator("#link.live").wait_for()
    type_into(page, what_if(page).get_by_label("And also"), SECOND)
    page.keyboard.press("Enter")
    expect(what_if(page)).to_contain_text("Put off: “Sweep the step”")
    page.locator("#link.live").wait_for()
    now, then = compared(page, "Finish")
    assert now != then
    assert page.locator("[data-fig=finish]").first.inner_text() == now
    assert kinds(server, run) == []
    type_into(page, what_if(page).get_by_label("Because"), "ice on the rail")
    page.keyboard.press("Enter")
    expect(what_if(page).get_by_role("table")).to_have_count(0)
    expect(page.locator(".put-off")).to_contain_text("ice on the rail")
    assert kinds(server, run) == ["TakesRevised", "TasksPutOff"]
    assert page.url == f"{server.address}/runs/{run}/lead", "a reload would try again what is done"
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("g")
    expect(page.locator(".log > li").first).to_contain_text("Put off: “Sweep the step”. ice on the rail")
    expect(page.locator(".log > li").nth(1)).to_contain_text("Takes 17m")


def test_what_is_tried_is_dropped_with_the_keyboard_and_nothing_is_logged(
    server: Server, station: NewStation, run: int
) -> None:
    page = open_lead(station(), run, "?if=put+off+sweep&if=ANA+loses+15+min")
    tab_to(page, what_if(page).get_by_role("button", name="Without this one").first)
    page.keyboard.press("Enter")
    expect(what_if(page).locator("ol li")).to_have_count(1)
    expect(what_if(page).locator("ol li")).to_contain_text(FIRST)
    page.locator("#link.live").wait_for()
    tab_to(page, what_if(page).get_by_role("link", name="Drop it"))
    page.keyboard.press("Enter")
    expect(what_if(page).get_by_role("table")).to_have_count(0)
    assert page.url == f"{server.address}/runs/{run}/lead"
    assert kinds(server, run) == []


def test_what_is_tried_and_what_is_typed_survive_another_stations_mark(
    server: Server, station: NewStation, run: int
) -> None:
    page = open_lead(station(), run, "?if=CHI+loses+15+min")
    page.evaluate("window.stillThere = true")
    expect(what_if(page).locator("ol li")).to_contain_text("cut/1")
    field = what_if(page).get_by_label("And also")
    field.click()
    field.press_sequentially("put off sw")
    server.mark(run, "cut/1", voltage=1.0)
    expect(what_if(page).locator("ol li")).to_contain_text("cut/2", timeout=AT_ONCE_MS)
    page.keyboard.type("eep")
    expect(field).to_have_value("put off sweep")
    expect(field).to_be_focused()
    server.mark(run, "cut/2")
    expect(what_if(page)).to_contain_text("CHI has nothing left to do", timeout=AT_ONCE_MS)
    field = what_if(page).get_by_label("Try", exact=True)
    expect(field).to_have_value("put off sweep")
    expect(field).to_be_focused()
    assert page.evaluate("window.stillThere")


def test_a_typed_reason_keeps_its_focus_when_what_is_tried_is_worked_out_anew(
    server: Server, station: NewStation, run: int
) -> None:
    page = open_lead(station(), run, "?if=CHI+loses+15+min")
    reason = what_if(page).get_by_label("Because")
    reason.click()
    reason.press_sequentially("ice on ")
    server.mark(run, "cut/1", voltage=1.0)
    expect(what_if(page).locator("ol li")).to_contain_text("cut/2", timeout=AT_ONCE_MS)
    page.keyboard.type("the rail")
    expect(reason).to_have_value("ice on the rail")
    expect(reason).to_be_focused()


def test_a_change_that_cannot_be_tried_stands_in_its_field_to_be_corrected(
    server: Server, station: NewStation, run: int
) -> None:
    page = open_lead(station(), run)
    field = what_if(page).get_by_label("Try", exact=True)
    field.fill("ANA looses 15 min")
    field.press("Enter")
    expect(what_if(page).get_by_role("alert")).to_contain_text("Can't be tried")
    expect(field).to_have_value("ANA looses 15 min")
    field.fill(FIRST)
    field.press("Enter")
    expect(what_if(page)).to_contain_text("Takes 17m")
    assert kinds(server, run) == []


def test_an_option_is_put_off_and_put_back_with_the_keyboard(server: Server, station: NewStation, run: int) -> None:
    there = station()
    page = open_lead(there, run)
    before = page.locator("#lead-figures [data-fig=finish]").inner_text()
    then = page.locator("[data-fig=option-0-finish]").inner_text()
    type_into(page, page.locator('[id="option-sweep"]'), "no time")
    page.keyboard.press("Enter")
    back = page.locator('[id="back-sweep"]')
    expect(back).to_be_visible()
    expect(page.locator("#lead-figures [data-fig=finish]")).to_have_text(then)
    expect(page.locator('[id="option-sweep"]')).to_have_count(0)
    there.next_press()
    type_into(page, back, "time after all")
    page.keyboard.press("Enter")
    expect(back).to_have_count(0)
    expect(page.locator("#lead-figures [data-fig=finish]")).to_have_text(before)
    assert kinds(server, run) == ["TasksPutOff", "TaskPutBack"]


def test_of_two_stations_that_take_the_same_option_one_does_and_the_other_is_told(
    server: Server, station: NewStation, run: int
) -> None:
    pages = [open_lead(station(), run) for _ in range(2)]
    for page, why in zip(pages, ("cold", "late"), strict=True):
        page.locator('[id="option-sweep"]').fill(why)
    # Both hands come down before either answer: no page may hear of the other's press first.
    for page in pages:
        page.evaluate("() => setTimeout(() => document.getElementById('option-sweep').form.requestSubmit(), 300)")
    for page in pages:
        expect(page.locator(".put-off")).to_contain_text("Put off so far", timeout=AT_ONCE_MS)
    assert kinds(server, run) == ["TasksPutOff"]
    until(lambda: any(page.get_by_role("alert").count() for page in pages), pages[0])
    alerts = [page.get_by_role("alert").all_inner_texts() for page in pages]
    told = [text for texts in alerts for text in texts]
    assert len(told) == 1
    assert "“Sweep the step” was put off already." in told[0]


def test_it_all_works_without_script(server: Server, station: NewStation, run: int) -> None:
    there = station(script=False)
    page = open_lead(there, run, live=False)
    what_if(page).get_by_label("Try", exact=True).fill(FIRST)
    what_if(page).get_by_role("button", name="Try it").click()
    what_if(page).get_by_label("And also").fill(SECOND)
    what_if(page).get_by_role("button", name="Try it").click()
    assert len(compared(page, "Finish")) == 2
    what_if(page).get_by_label("Because").fill("   ")
    what_if(page).get_by_role("button", name="Do it").click()
    expect(page.get_by_role("alert")).to_contain_text("Say why this is done.")
    expect(what_if(page).locator("ol li")).to_have_count(2)
    what_if(page).get_by_label("Because").fill("ice")
    what_if(page).get_by_role("button", name="Do it").click()
    expect(page).to_have_url(f"{there.address}/runs/{run}/lead")
    assert kinds(server, run) == ["TakesRevised", "TasksPutOff"]
    page.locator('[id="back-sweep"]').fill("time after all")
    page.locator(".put-off").get_by_role("button", name="Put back").click()
    assert kinds(server, run)[2:] == ["TaskPutBack"]
    what_if(page).get_by_label("Try", exact=True).fill(FIRST)
    what_if(page).get_by_role("button", name="Try it").click()
    what_if(page).get_by_role("link", name="Drop it").click()
    expect(what_if(page).get_by_role("table")).to_have_count(0)


def test_a_past_moment_is_tried_without_leaving_it(station: NewStation, run: int) -> None:
    page = open_lead(station(), run, "?at=0:11:00", live=False)
    what_if(page).get_by_label("Try", exact=True).fill(SECOND)
    what_if(page).get_by_role("button", name="Try it").click()
    expect(page.locator(".bar")).to_contain_text("As it stood at 00:11:00")
    expect(what_if(page).get_by_role("table")).to_have_count(1)
    expect(page.locator("main button:visible", has_text="Do it")).to_have_count(0)
    what_if(page).get_by_role("link", name="Drop it").click()
    expect(page.locator(".bar")).to_contain_text("As it stood at 00:11:00")


def violations(page: Page) -> list[str]:
    found: dict[str, Any] = page.evaluate("rules => axe.run(rules)", RULES)
    return [
        f"{rule['id']}: {node['target']} {node['failureSummary']}"
        for rule in found["violations"]
        for node in rule["nodes"]
    ]


TRIED = "?if=ANA+loses+15+min&if=swap+sweep+and+photo+of+BEN"
LONG = "?if=" + "x" * 200


@pytest.mark.parametrize(
    "asked", ["?if=CHI+loses+15+min&if=out/9+takes+1+min", LONG, "TRIED"], ids=["refused", "long", "tried"]
)
@pytest.mark.parametrize("width", [390, 1440])
def test_axe_finds_nothing_and_nothing_scrolls_sideways_with_all_of_it_shown(
    server: Server, station: NewStation, asked: str, width: int
) -> None:
    run = server.run("shelf")
    server.order(run, "put-off", task="dust", reason="no time for dust, and no cloth to dust it with")
    page = open_lead(station(width=width), run, "?if=ANA+loses+15+min&if=put+off+paint" if asked == "TRIED" else asked)
    expect(page.locator(".offers")).to_contain_text("Best together")
    expect(page.locator(".put-off")).to_contain_text("Put off so far")
    expect(page.locator(".put-off")).to_contain_text("what depends on it")
    expect(what_if(page).get_by_role("table")).to_have_count(int(asked == "TRIED"))
    page.evaluate("for (const each of document.querySelectorAll('details')) each.open = true")
    assert fits(page)
    page.evaluate(AXE)
    for theme in ("dark", "light"):
        page.evaluate("theme => { document.documentElement.dataset.theme = theme }", theme)
        assert violations(page) == [], theme


def test_all_of_a_best_set_is_taken_with_one_press(server: Server, station: NewStation) -> None:
    run = server.run("shelf")
    page = open_lead(station(), run)
    button = page.get_by_role("button", name="Take all 2")
    tab_to(page, button)
    page.keyboard.press("Enter")
    expect(page.locator(".offers")).to_contain_text("Taken at")
    expect(button).to_have_count(0)
    assert [each["kind"] for each in server.events(run)][1:] == ["WorkTaken", "WorkTaken"]
