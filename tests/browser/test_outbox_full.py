"""A browser that can store nothing more: what waits is sent all the same, and what is said of a press is true."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, Route, expect

from tests.browser.cable import Cable
from tests.browser.kept import SENT_MS, counts, has_cards, is_lost, row, rows, summary
from tests.browser.server import Server
from tests.browser.station import Station

pytestmark = pytest.mark.browser


QUOTA_BYTES = 100_000
FILL = """async () => {
    const opened = await new Promise((done, failed) => {
        const asked = indexedDB.open("filler", 1);
        asked.onupgradeneeded = () => asked.result.createObjectStore("all", { autoIncrement: true });
        [asked.onsuccess, asked.onerror] = [() => done(asked.result), () => failed(asked.error)]; });
    const put = (size) => new Promise((done) => {
        const doing = opened.transaction("all", "readwrite");
        doing.objectStore("all").add("x".repeat(size));
        [doing.oncomplete, doing.onabort] = [() => done(""), () => done(doing.error.name)]; });
    for (const size of [10_000, 1_000, 100, 1]) while (!(await put(size)));
    return put(1); }"""
"""Of ever smaller pieces, until the browser itself refuses the smallest."""


@pytest.fixture
def at_desk(server: Server, far: Station) -> int:
    """On the Desk of a station whose browser gives this server little room, which is not filled yet."""
    room = {"origin": far.address, "quotaSize": QUOTA_BYTES}
    far.context.new_cdp_session(far.page).send("Storage.overrideQuotaForOrigin", room)
    run = server.run("relay", "0:12:00")
    far.open(f"/runs/{run}/desk")
    has_cards(far.page)
    return run


def _fill(there: Station) -> None:
    assert there.page.evaluate(FILL) == "QuotaExceededError", "the storage is not full"


def _done(there: Station, *designators: str) -> None:
    for designator in designators:
        there.band(designator).locator("button:visible").get_by_text("Done", exact=True).click()
        there.next_press()


def _holding(page: Page, answer: Callable[[Route], Any]) -> None:
    page.context.route("**/orders", answer)


def test_what_waits_is_sent_though_nothing_more_can_be_stored(
    server: Server, far: Station, cable: Cable, at_desk: int
) -> None:
    cable.cut()
    is_lost(far.page)
    _done(far, "ANA", "ANA")
    counts(far.page, 2)
    _fill(far)
    cable.restore()
    counts(far.page, 0)
    assert server.marked(at_desk) == ["out/1", "out/2"]
    expect(far.band("ANA").locator(".now > .marking .text")).to_have_text("Stop. Is the box free", timeout=SENT_MS)
    far.page.wait_for_timeout(1_500)  # The bands have changed; a press right after that would not count.
    _done(far, "BEN")  # Nothing waits, so it goes straight to the server.
    expect(far.band("BEN").locator("[data-undo]:visible")).to_contain_text("Sweep it clean", timeout=SENT_MS)
    assert server.marked(at_desk) == ["out/1", "out/2", "sweep/1"]


def test_a_press_on_a_live_page_that_can_not_be_stored_goes_to_the_server_after_what_waits(
    server: Server, far: Station, at_desk: int
) -> None:
    waits: list[Route] = []
    let_through: list[bool] = []
    _holding(far.page, lambda route: route.continue_() if let_through else waits.append(route))
    _done(far, "ANA")
    counts(far.page, 1)
    _fill(far)
    far.next_press()
    _done(far, "ANA")
    counts(far.page, 2)
    expect(far.page.locator("#notice")).not_to_contain_text("does not answer")
    far.page.keyboard.press("k")
    expect(row(far.page, "Walk to the box")).to_contain_text(
        re.compile("[Hh]eld by the open page alone.*QuotaExceededError")
    )
    let_through.append(True)
    counts(far.page, 0)
    assert server.marked(at_desk) == ["out/1", "out/2"]


def test_a_press_that_can_not_be_stored_while_the_link_is_lost_is_not_taken_and_what_waits_is_kept(
    server: Server, far: Station, cable: Cable, at_desk: int
) -> None:
    cable.cut()
    is_lost(far.page)
    _done(far, "ANA")
    counts(far.page, 1)
    _fill(far)
    _done(far, "ANA")
    expect(far.page.get_by_role("alert")).to_contain_text("it is NOT taken")
    counts(far.page, 1)
    cable.restore()
    counts(far.page, 0)
    assert server.marked(at_desk) == ["out/1"]


def test_a_press_that_was_sent_and_can_not_be_stored_is_not_said_to_be_lost(
    server: Server, far: Station, cable: Cable, at_desk: int
) -> None:
    """Its answer did not come: nobody knows whether it arrived, and its key settles it."""
    _fill(far)
    cable.go_dead()
    _done(far, "ANA")
    expect(row(far.page, "Open the door")).to_contain_text("may have arrived already", timeout=SENT_MS)
    expect(row(far.page, "Open the door")).to_contain_text("alone")
    expect(far.page.locator("#notice")).not_to_contain_text("NOT taken")
    cable.restore()
    counts(far.page, 0)
    assert server.marked(at_desk) == ["out/1"]


def test_a_refusal_that_can_not_be_stored_is_put_before_the_person_all_the_same(
    server: Server, far: Station, cable: Cable, at_desk: int
) -> None:
    cable.cut()
    is_lost(far.page)
    _done(far, "ANA", "ANA")
    counts(far.page, 2)
    server.mark(at_desk, "out/1", "0:06:00")
    _fill(far)
    cable.restore()
    counts(far.page, 0, 1)
    expect(row(far.page, "Open the door")).to_contain_text("is already done, at 00:06:00")
    refused = row(far.page, "Open the door")
    refused.get_by_role("button", name="Drop it").click()
    refused.get_by_role("button", name="Drop it for good").click()
    counts(far.page, 0)
    assert server.marked(at_desk) == ["out/1", "out/2"]


def test_other_tabs_know_what_could_not_be_stored_and_do_not_take_it_back(
    server: Server, far: Station, at_desk: int
) -> None:
    other = far.tab(f"/runs/{at_desk}/desk")
    hanging: list[Route] = []
    far.page.context.route("**/api/me", lambda route: route.abort())
    _holding(far.page, lambda route: hanging.append(route))
    far.page.evaluate("leadline.isLost = () => true")
    _done(far, "ANA")
    counts(other, 1)
    _fill(far)
    far.page.context.unroute("**/api/me")
    other.keyboard.press("k")
    expect(rows(other)).to_contain_text(re.compile("being sent|it may have arrived already"), timeout=SENT_MS)
    expect(other.get_by_role("button", name="Take back")).to_have_count(0)
    hanging[0].continue_()
    far.page.context.unroute("**/orders")
    counts(other, 0)
    counts(far.page, 0)
    assert server.marked(at_desk) == ["out/1"]
    expect(summary(other)).to_be_hidden()
