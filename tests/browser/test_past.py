"""``?at=`` shows the past and changes nothing; and no page, past or live, asks any other origin for anything."""

from urllib.parse import urlsplit

import pytest
from playwright.sync_api import expect

from tests.browser.cable import is_stream
from tests.browser.server import Server
from tests.browser.station import NewStation

pytestmark = pytest.mark.browser


@pytest.fixture
def run(server: Server) -> int:
    """A run with marks at five and ten minutes, at minute twelve."""
    found = server.run("relay", "0:12:00")
    for step, at in (("out/1", "0:05"), ("out/2", "0:10")):
        server.mark(found, step, at)
    return found


@pytest.mark.parametrize(
    ("page", "then"),
    [
        ("desk", "Go out · step 1 of 2 · ANA and BEN together"),
        ("lead", "Open the door · under way"),
        ("list/ANA", "0 of 5 steps done"),
    ],
)
def test_a_past_moment_shows_what_was_and_takes_no_order(
    server: Server, station: NewStation, run: int, page: str, then: str
) -> None:
    there = station()
    shown = there.open(f"/runs/{run}/{page}?at=0:04:30", live=False)
    expect(shown.locator(".bar")).to_contain_text("As it stood at 00:04:30")
    expect(shown.locator("body")).to_contain_text(then)
    expect(shown.locator("form[method=post], [hx-post], [data-main], [data-undo]")).to_have_count(0)
    shown.keyboard.press("1")
    shown.keyboard.press("Enter")
    before = shown.locator("main").inner_text()
    server.mark(run, "sweep/1")
    with shown.expect_response("**/api/runs"):
        shown.evaluate("fetch('/api/runs')")  # Time enough for a stream to have spoken.
    assert shown.locator("main").inner_text() == before
    assert not [url for url in there.asked if is_stream(urlsplit(url).path)], "a page of the past has a stream"


def test_the_past_keeps_its_moment_from_page_to_page_and_leads_back_to_now(station: NewStation, run: int) -> None:
    page = station().open(f"/runs/{run}/desk", live=True)
    page.get_by_label("Show the Desk as it stood at").fill("0:04:30")
    page.get_by_role("button", name="Show", exact=True).click()
    page.get_by_role("link", name="Lead board").click()
    expect(page.locator(".bar")).to_contain_text("As it stood at 00:04:30")
    page.get_by_label("Elapsed").fill("0:11")
    page.get_by_role("button", name="Show that moment").click()
    expect(page.locator(".people")).to_contain_text("Pull the breaker")
    page.get_by_role("link", name="Back to now").click()
    page.locator("#link.live").wait_for()


@pytest.mark.parametrize("at", ["9:00:00", "half past", "-1"])
def test_a_moment_that_cannot_be_shown_is_answered_in_words(station: NewStation, run: int, at: str) -> None:
    page = station().open(f"/runs/{run}/desk?at={at}", live=False)
    expect(page.locator("main")).to_contain_text("Back to Home")
    assert len(page.locator("main p").first.inner_text()) > 15


def test_the_api_page_works_offline(station: NewStation) -> None:
    """That it asks nobody else is what every station is watched for; the browser's log must stay empty too."""
    there = station()
    page = there.open("/api/docs", live=False)
    expect(page.locator("#swagger-ui")).to_contain_text("/api/runs/{run}/marks", timeout=10_000)
    assert any(url.endswith("/api/openapi.json") for url in there.asked)


def test_no_page_complains_or_asks_another_origin(server: Server, station: NewStation, run: int) -> None:
    """What the watched stations record is judged when the test ends."""
    there = station()
    revision = server.ask(f"/runs/{run}")["revision"]
    for path in ("/", *(f"/runs/{run}/{page}" for page in ("desk", "lead", "list/BEN", "log", "plan"))):
        there.open(path, live=True)
    there.open(f"/procedures/{revision}", live=False)
    there.open("/runs/999/desk", live=False)
    assert len(there.asked) > 20
