"""A server that was put on other data: no press of a page goes into a run that the page does not show."""

import shutil
from pathlib import Path

import pytest
from playwright.sync_api import Page, Route, expect

from tests.browser.kept import SENT_MS, counts, has_cards, is_lost, row
from tests.browser.server import Server
from tests.browser.station import NewStation, Station

pytestmark = pytest.mark.browser

BACK_MS = 20_000
"""A page finds back to a server that was started again within a few seconds; a slow machine gets the rest."""


def _done(there: Station, designator: str) -> None:
    there.band(designator).locator("button:visible").get_by_text("Done", exact=True).click()
    there.next_press()


def _other_data(server: Server, folder: Path) -> int:
    """Another folder in the server's place, with another run of the same number and procedure, an hour in."""
    (folder / "other").mkdir()
    with Server(folder / "other") as other:
        run = other.run("relay", "1:00:00")
        other.mark(run, "out/1", "0:50:00")
    server.kill()
    server.forget()
    shutil.move(other.data, server.data)
    server.start()
    return run


def _of(page: Page) -> str:
    return str(page.evaluate("document.body.dataset.of"))


def test_a_page_loads_itself_anew_and_what_is_kept_from_then_on_is_of_the_other_run(
    own_server: Server, station: NewStation, tmp_path: Path
) -> None:
    run = own_server.run("relay", "0:10:00")
    there = station(own_server)
    there.server_down = True
    page = there.open(f"/runs/{run}/desk")
    has_cards(page)
    was = _of(page)
    page.evaluate("window.notLoadedAnew = true")
    assert _other_data(own_server, tmp_path) == run
    page.wait_for_function("() => !window.notLoadedAnew", timeout=BACK_MS)
    page.locator("#link.live").wait_for(timeout=BACK_MS)
    expect(page.get_by_role("alert")).to_contain_text("another run")
    assert _of(page) != was
    expect(there.band("ANA").locator(".text:visible")).to_have_text("Walk to the box")
    has_cards(page)
    own_server.kill()
    is_lost(page)
    _done(there, "ANA")
    counts(page, 1)
    own_server.start()
    counts(page, 0)
    assert own_server.marked(run) == ["out/1", "out/2"]


def test_a_page_loads_itself_anew_also_when_the_other_run_is_started_only_later(
    own_server: Server, station: NewStation
) -> None:
    """Until then the server has no run of that number, and its stream tells no more of one."""
    run = own_server.run("relay", "0:10:00")
    there = station(own_server)
    there.server_down = True
    page = there.open(f"/runs/{run}/desk")
    page.evaluate("window.notLoadedAnew = true")
    own_server.kill()
    own_server.forget()
    own_server.start()
    expect(page.locator("#link")).to_contain_text("does not know this run", timeout=BACK_MS)
    assert own_server.run("relay", "1:00:00") == run
    page.wait_for_function("() => !window.notLoadedAnew", timeout=BACK_MS)
    expect(page.locator("#link")).to_have_text("● Live", timeout=BACK_MS)
    expect(page.get_by_role("alert")).to_contain_text("another run")


def test_a_press_that_the_page_sends_before_it_knows_is_refused_and_not_entered_into_the_other_run(
    own_server: Server, station: NewStation, tmp_path: Path
) -> None:
    """The stream is what tells the page; a press may be quicker."""
    run = own_server.run("relay", "0:10:00")
    there = station(own_server)
    there.server_down = True
    page = there.open(f"/runs/{run}/desk")
    # It learns nothing by itself.
    page.evaluate("Object.defineProperty(leadline.outbox.state, 'otherRun', { get: () => false, set() {} })")
    page.evaluate("document.getElementById('reload').remove()")
    assert _other_data(own_server, tmp_path) == run
    expect(page.locator("#link")).to_have_text("● Live", timeout=BACK_MS)
    page.evaluate("leadline.outbox.takes = () => null")  # And keeps nothing: what it sends is all there is.
    sent: list[str] = []
    page.on("request", lambda request: sent.append(request.post_data or "") if request.method == "POST" else None)
    page.evaluate("fetch('/api/me').then((me) => me.json()).then((me) => { window.token = me.token })")
    page.wait_for_function("() => window.token")
    page.evaluate("for (const each of document.querySelectorAll('[name=token]')) each.value = window.token")
    page.locator("#desk-end").get_by_label("Note or flag").fill("of the first run")
    page.locator("#desk-end").get_by_role("button", name="Add the note").click()
    expect(page.get_by_role("alert")).to_contain_text("another run that was called 1", timeout=SENT_MS)
    assert len(sent) == 1
    assert "of=" in sent[0]
    assert [each["kind"] for each in own_server.events(run)].count("NoteAdded") == 0


def test_what_was_on_its_way_when_the_page_learns_of_it_is_put_before_the_person_on_the_page_loaded_anew(
    own_server: Server, station: NewStation, tmp_path: Path
) -> None:
    run = own_server.run("relay", "0:10:00")
    there = station(own_server)
    there.server_down = True
    page = there.open(f"/runs/{run}/desk")
    page.evaluate("window.notLoadedAnew = true")
    hung: list[Route] = []
    page.route("**/orders", lambda route: route.continue_() if hung else hung.append(route))
    _done(there, "ANA")
    assert _other_data(own_server, tmp_path) == run
    page.wait_for_function("() => !window.notLoadedAnew", timeout=BACK_MS)
    counts(page, 0, 1)
    expect(row(page, "Open the door")).to_contain_text("another run that was called")
    assert own_server.marked(run) == ["out/1"]


def test_a_restart_on_the_same_data_loads_nothing_anew(own_server: Server, station: NewStation) -> None:
    run = own_server.run("relay", "0:10:00")
    there = station(own_server)
    there.server_down = True
    page = there.open(f"/runs/{run}/desk")
    page.evaluate("window.notLoadedAnew = true")
    own_server.kill()
    is_lost(page)
    own_server.start()
    expect(page.locator("#link")).to_have_text("● Live", timeout=BACK_MS)
    page.wait_for_timeout(2_000)
    assert page.evaluate("window.notLoadedAnew") is True
