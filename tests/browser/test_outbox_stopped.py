"""What stops sending or keeping: a full disk, something in the server's place, a browser that can store nothing."""

import pytest
from playwright.sync_api import Route, expect

from tests.browser.cable import Cable
from tests.browser.kept import SENT_MS, counts, has_cards, is_lost, until
from tests.browser.server import Server
from tests.browser.station import NewStation, Station

pytestmark = pytest.mark.browser


def _done(there: Station, *designators: str) -> None:
    for designator in designators:
        there.band(designator).locator("button:visible").get_by_text("Done", exact=True).click()
        there.next_press()


@pytest.mark.parametrize("status", [429, 502, 503, 504, 507])
def test_an_answer_that_says_later_keeps_the_press_and_says_why(
    server: Server, station: NewStation, status: int
) -> None:
    run = server.run("relay", "0:04:00")
    there = station()
    page = there.open(f"/runs/{run}/desk")
    said = '<section id="notice" class="notice-place">Not done. Full.</section>'
    notice = f'<hx-partial hx-target="#notice">{said}</hx-partial>'

    def later(route: Route) -> None:
        if route.request.headers["accept"] == "application/json":
            route.fulfill(
                status=status, content_type="application/problem+json", body='{"detail": "The disk is full."}'
            )
        else:
            route.fulfill(status=status, content_type="text/html", body=notice)

    page.route("**/orders", later)
    there.done("ANA").click()
    counts(page, 1)
    expect(page.locator("#outbox")).to_contain_text("The disk is full.", timeout=SENT_MS)
    expect(page.locator("#notice")).not_to_contain_text("Not done")
    page.unroute("**/orders")
    counts(page, 0)
    assert server.marked(run) == ["out/1"]
    there.problems = [each for each in there.problems if f"status of {status}" not in each]


def test_an_answer_of_something_else_in_the_servers_place_is_no_acknowledgement(
    server: Server, station: NewStation
) -> None:
    run = server.run("relay", "0:04:00")
    there = station()
    there.server_down = True
    page = there.open(f"/runs/{run}/desk")
    page.route("**/orders", lambda route: route.abort())
    there.done("ANA").click()
    counts(page, 1)
    page.unroute("**/orders")
    asked: list[str] = []

    def portal(route: Route) -> None:
        asked.append(route.request.url)
        route.fulfill(status=200, content_type="text/html", body="<h1>Accept our terms</h1>")

    page.route("**/orders", portal)
    expect(page.locator("#outbox")).to_contain_text("Something answers in the server's place", timeout=SENT_MS)
    assert asked
    counts(page, 1)
    page.unroute("**/orders")
    counts(page, 0)
    assert server.marked(run) == ["out/1"]


NO_STORE = {
    "there is none": "Object.defineProperty(window, 'indexedDB', { value: undefined })",
    "it can't be opened": """IDBFactory.prototype.open = () => {
        const asked = { error: new DOMException("no", "UnknownError") };
        setTimeout(() => asked.onerror());
        return asked; }""",
    "it is full": """IDBObjectStore.prototype.add = function () {
        this.transaction.abort();
        throw new DOMException("full", "QuotaExceededError"); }""",
}


def test_what_waits_is_sent_over_a_link_that_takes_four_seconds_for_an_answer(
    server: Server, far: Station, cable: Cable
) -> None:
    """An ordinary press arrives over it as well: the page is live."""
    run = server.run("relay", "0:12:00")
    far.open(f"/runs/{run}/desk")
    has_cards(far.page)
    cable.cut()
    is_lost(far.page)
    _done(far, "ANA", "ANA")
    counts(far.page, 2)
    cable.lag(4)
    cable.restore()
    until(lambda: server.marked(run) == ["out/1", "out/2"], far.page, within_s=60)
    counts(far.page, 0)


HANGS = "IDBFactory.prototype.open = () => ({})"


def test_a_store_that_never_answers_is_found_out_and_said(server: Server, far: Station, cable: Cable) -> None:
    run = server.run("relay", "0:12:00")
    far.page.add_init_script(HANGS)
    far.open(f"/runs/{run}/desk")
    has_cards(far.page)
    cable.cut()
    is_lost(far.page)
    _done(far, "ANA")
    expect(far.page.get_by_role("alert")).to_contain_text("can't keep the press (TimeoutError)", timeout=SENT_MS)
    expect(far.page.get_by_role("alert")).to_contain_text("it is NOT taken")


def test_what_is_kept_is_shown_on_a_page_of_the_past_too(far: Station, server: Server) -> None:
    run = server.run("relay", "0:12:00")
    far.open(f"/runs/{run}/desk")
    has_cards(far.page)
    far.page.context.route("**/orders", lambda route: route.abort())
    _done(far, "ANA")
    counts(far.page, 1)
    past = far.context.new_page()
    past.goto(f"/runs/{run}/desk?at=0:05:00")
    counts(past, 1)
    far.page.context.unroute("**/orders")
    counts(past, 0)
    assert server.marked(run) == ["out/1"]


@pytest.mark.parametrize("why", NO_STORE)
def test_what_can_not_be_kept_is_said_not_to_be_taken(server: Server, far: Station, cable: Cable, why: str) -> None:
    run = server.run("relay", "0:12:00")
    far.page.add_init_script(NO_STORE[why])
    far.open(f"/runs/{run}/desk")
    has_cards(far.page)
    cable.cut()
    is_lost(far.page)
    _done(far, "ANA")
    expect(far.page.get_by_role("alert")).to_contain_text("can't keep the press")
    expect(far.page.get_by_role("alert")).to_contain_text("it is NOT taken")
    expect(far.band("ANA").locator(".text:visible")).to_have_text("Open the door")
    cable.restore()
    expect(far.page.locator("#link")).to_have_text("● Live", timeout=SENT_MS)
    _done(far, "ANA")
    expect(far.band("ANA").locator(".now > .marking .text")).to_have_text("Walk to the box")
    assert server.marked(run) == ["out/1"]
