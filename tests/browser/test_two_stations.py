"""Two stations look at one run: what one marks the other sees at once, and nothing moves under its hand."""

from typing import NamedTuple

import pytest
from playwright.sync_api import Page, expect

from tests.browser.server import Server
from tests.browser.station import AT_ONCE_MS, NewStation, Station

pytestmark = pytest.mark.browser


class Place(NamedTuple):
    """Where a mark is looked for, and the words that say it."""

    path: str
    selector: str
    before: str
    after: str


PLACES = (
    Place("desk", 'section[aria-label="ANA"] .now .text', "Open the door", "Walk to the box"),
    Place("lead", '.people tbody tr:first-child td[data-label="Now"]', "Open the door", "Walk to the box"),
    Place("list/ANA", ".list-steps li.here", "Open the door", "Walk to the box"),
    Place("log", ".log > li:first-child .what", "acknowledges", "Done: “Open the door”"),
)


def _never_reloads(page: Page) -> None:
    page.evaluate("window.stillThere = true")


def _chi_at_the_breaker(server: Server, station: NewStation) -> tuple[int, Station]:
    """A run in which CHI has a value to type, and a station that shows its Desk."""
    run = server.run("relay", "0:12:00")
    for step, at in (("out/1", "0:05"), ("out/2", "0:10")):
        server.mark(run, step, at)
    there = station()
    there.open(f"/runs/{run}/desk")
    return run, there


def test_a_mark_shows_on_every_page_of_another_station_within_two_seconds(server: Server, station: NewStation) -> None:
    run = server.run("relay", "0:04:00")
    here, there = station(), station()
    here.open(f"/runs/{run}/desk")
    pages = [there.tab(f"/runs/{run}/{place.path}") for place in PLACES]
    for page, place in zip(pages, PLACES, strict=True):
        expect(page.locator(place.selector)).to_contain_text(place.before)
        _never_reloads(page)
    here.done("ANA").click()
    for page, place in zip(pages, PLACES, strict=True):
        expect(page.locator(place.selector)).to_contain_text(place.after, timeout=AT_ONCE_MS)
        assert page.evaluate("window.stillThere"), f"{place.path} was loaded anew"


def test_typing_and_focus_survive_what_another_station_marks(server: Server, station: NewStation) -> None:
    run, there = _chi_at_the_breaker(server, station)
    page = there.page
    field = there.band("CHI").get_by_label("voltage")
    field.click()
    field.press_sequentially("1.")
    server.mark(run, "sweep/1")
    expect(there.band("BEN").locator(".undo, [data-undo]")).to_contain_text("Sweep it clean", timeout=AT_ONCE_MS)
    page.keyboard.type("5")
    expect(field).to_have_value("1.5")
    expect(field).to_be_focused()


def test_typing_survives_a_change_of_the_band_it_is_typed_into(server: Server, station: NewStation) -> None:
    run, there = _chi_at_the_breaker(server, station)
    page = there.page
    field = there.band("CHI").get_by_label("voltage")
    field.click()
    field.press_sequentially("0.")
    server.order(run, "start", step="cut/1")
    expect(there.band("CHI")).to_contain_text("started 00:12", timeout=AT_ONCE_MS)
    page.keyboard.type("8")
    expect(field).to_have_value("0.8")
    expect(field).to_be_focused()


def test_an_open_more_stays_open_with_what_is_typed_in_it(server: Server, station: NewStation) -> None:
    run, there = _chi_at_the_breaker(server, station)
    band = there.band("CHI")
    band.locator("[data-more]").click()
    band.get_by_label("Reason or note").fill("breaker is stiff")
    server.order(run, "start", step="cut/1")
    expect(band).to_contain_text("started 00:12", timeout=AT_ONCE_MS)
    expect(there.folded("CHI", "more")).to_have_attribute("open", "")
    expect(band.get_by_label("Reason or note")).to_have_value("breaker is stiff")


def test_bands_keep_their_place_and_the_chosen_one_stays_chosen(server: Server, station: NewStation) -> None:
    run = server.run("relay", "0:04:00")
    there = station()
    page = there.open(f"/runs/{run}/desk")
    page.keyboard.press("2")
    order = "[...document.querySelectorAll('.band')].map(band => band.getAttribute('aria-label'))"
    before = page.evaluate(order)
    server.mark(run, "out/1")
    server.mark(run, "out/2")
    expect(there.band("CHI").locator(".now .text")).to_have_text("Pull the breaker", timeout=AT_ONCE_MS)
    assert page.evaluate(order) == before == ["ANA", "BEN", "CHI"]
    expect(page.locator(".band.chosen")).to_have_attribute("aria-label", "BEN")
    expect(there.band("BEN")).to_be_focused()


def test_a_typed_reason_survives_a_change_on_the_lead_board(server: Server, station: NewStation) -> None:
    run = server.run("relay", "0:04:00")
    there = station()
    page = there.open(f"/runs/{run}/lead")
    page.locator("#each-put-off > summary").click()
    reason = page.locator("#off-sweep")
    reason.click()
    reason.press_sequentially("short of ")
    server.mark(run, "out/1")
    expect(page.locator(PLACES[1].selector)).to_contain_text("Walk to the box", timeout=AT_ONCE_MS)
    page.keyboard.type("gas")
    expect(reason).to_have_value("short of gas")


def test_a_press_that_comes_down_just_after_another_stations_mark_does_not_mark_the_next_step(
    server: Server, station: NewStation
) -> None:
    run = server.run("relay", "0:04:00")
    there = station()
    page = there.open(f"/runs/{run}/desk")
    there.next_press()
    # The hand is on its way when the band moves on: the click follows the swap at once, in the page itself.
    page.evaluate(
        """() => document.addEventListener("htmx:after:swap", () => setTimeout(() => {
             const band = document.querySelector('.band[aria-label="ANA"]');
             if (band.querySelector(".text").textContent === "Walk to the box") {
               if (!document.body.dataset.pressed) band.querySelector("[data-main]").click();
               document.body.dataset.pressed = "yes";
             }
           }, 20))"""
    )
    server.mark(run, "out/1")
    expect(page.locator("body")).to_have_attribute("data-pressed", "yes", timeout=AT_ONCE_MS)
    there.next_press()
    assert server.ask(f"/runs/{run}")["crew"]["ANA"]["next"] == "out/2"
    there.done("ANA").click()
    expect(there.band("ANA").locator(".now .text")).not_to_have_text("Walk to the box", timeout=AT_ONCE_MS)


def test_a_go_pressed_just_as_somebody_else_answers_is_not_taken_for_the_next_person(
    server: Server, station: NewStation
) -> None:
    run = server.run("rig", "0:10:00")
    there = station()
    page = there.open(f"/runs/{run}/desk")
    there.next_press()
    page.evaluate(
        """() => document.addEventListener("htmx:after:swap", () => setTimeout(() => {
             const main = document.querySelector('.band[aria-label="CHI"] [data-main]');
             if (main.value === "go:BEN" && !document.body.dataset.pressed) {
               main.click();
               document.body.dataset.pressed = "yes";
             }
           }, 20))"""
    )
    server.ask(f"/runs/{run}/orders", do="go", step="watch/1", person="ANA")
    expect(page.locator("body")).to_have_attribute("data-pressed", "yes", timeout=AT_ONCE_MS)
    there.next_press()
    assert [each["body"]["person"] for each in server.events(run) if each["kind"] == "GoGiven"] == ["ANA"]
