"""One stream serves all tabs of a browser and comes back from whatever happens to the cable; no tab misses anything."""

import re

import pytest
from playwright.sync_api import Error, Page, Route, expect

from tests.browser.cable import Cable, is_stream
from tests.browser.kept import until
from tests.browser.server import Server
from tests.browser.station import NewStation, Station

pytestmark = pytest.mark.browser

BACK_MS = 8_000
"""The longest wait before a next try is 5 s (static/stream.js); a slow machine gets the rest."""

NO_WORKER = "delete window.SharedWorker"


def _shown(page: Page) -> int:
    """The seq that the parts of this page have caught up with."""
    return int(page.evaluate("leadline.seq()"))


def _last(server: Server, run: int) -> int:
    return int(server.events(run)[-1]["seq"])


def _catches_up(page: Page, server: Server, run: int) -> None:
    expect(page.locator("#link")).to_have_text("● Live", timeout=BACK_MS)
    until(lambda: _shown(page) == _last(server, run), page, 10)


def test_nine_tabs_of_two_runs_and_of_home_are_live_by_one_stream(server: Server, cable: Cable, far: Station) -> None:
    """A browser opens six connections to one server at most, so a stream for each tab would leave the seventh dead."""
    first, second = server.run("relay", "0:04:00"), server.run("relay", "0:04:00")
    far.open(f"/runs/{first}/desk")
    tabs = [far.tab(f"/runs/{first}/{page}") for page in ("lead", "log", "list/ANA", "plan")]
    others = [far.tab(f"/runs/{second}/{page}") for page in ("desk", "log")]
    homes = [far.tab("/"), far.tab("/")]
    assert cable.streams() == 1
    server.mark(first, "out/1")
    server.order(second, "note", reason="a second run")
    for page in (far.page, *tabs):
        until(lambda page=page: _shown(page) == _last(server, first), page, 10)  # type: ignore[misc] # bound at once
    for page in others:
        until(lambda page=page: _shown(page) == _last(server, second), page, 10)  # type: ignore[misc]
    for page in homes:
        expect(page.locator(f'[data-fig="elapsed-{second}"]').first).not_to_be_empty()
    assert cable.streams() == 1


def test_a_tab_that_was_closed_is_heard_for_no_more(server: Server, cable: Cable, far: Station) -> None:
    first, second = server.run("relay"), server.run("relay")
    far.open(f"/runs/{first}/desk")
    far.tab(f"/runs/{second}/desk").close()
    until(lambda: _streams(cable)[-1] == f"/api/live?run={first}", far.page, 10)
    expect(far.page.locator("#link")).to_have_text("● Live")


def test_a_tab_that_crashed_is_heard_for_no_more(server: Server, cable: Cable, far: Station) -> None:
    """It says nothing at its end, so the worker asks its tabs every few seconds."""
    first, second = server.run("relay"), server.run("relay")
    far.open(f"/runs/{first}/desk")
    doomed = far.tab(f"/runs/{second}/desk")
    with pytest.raises(Error):
        doomed.goto("chrome://crash", timeout=2_000)
    until(lambda: _streams(cable)[-1] == f"/api/live?run={first}", far.page, 40)
    server.order(first, "note", reason="still told")
    _catches_up(far.page, server, first)


def test_after_a_cut_the_page_has_all_that_happened_meanwhile(server: Server, cable: Cable, far: Station) -> None:
    run = server.run("relay", "0:04:00")
    far.open(f"/runs/{run}/desk")
    log = far.tab(f"/runs/{run}/log")
    cable.cut()
    server.mark(run, "out/1")
    server.order(run, "note", reason="while the cable was cut")
    for page in (far.page, log):
        expect(page.locator("#link")).to_contain_text("Not connected for", timeout=8_000)
        expect(page.locator("#link")).to_contain_text("Figures as of 00:04:0")
    cable.restore()
    for page in (far.page, log):
        _catches_up(page, server, run)
    expect(log.get_by_text("while the cable was cut")).to_be_visible()
    expect(far.band("ANA").locator("[data-undo]")).to_contain_text("Open the door")


def test_a_link_that_went_dead_without_a_word_is_opened_anew(server: Server, cable: Cable, far: Station) -> None:
    """No end of the connection ever comes: only the silence tells."""
    run = server.run("relay", "0:04:00")
    far.open(f"/runs/{run}/desk")
    cable.go_dead()
    server.mark(run, "out/1")
    expect(far.page.locator("#link")).to_contain_text("Not connected for", timeout=8_000)
    cable.restore()
    expect(far.page.locator("#link")).to_have_text("● Live", timeout=20_000 + BACK_MS)
    _catches_up(far.page, server, run)


@pytest.mark.parametrize("times", [1, 4])
def test_a_stream_answered_with_503_is_asked_for_again(server: Server, cable: Cable, far: Station, times: int) -> None:
    """The first such answer closes a browser's own stream for good."""
    run = server.run("relay", "0:04:00")
    far.open(f"/runs/{run}/desk")
    cable.answer(503, times)
    server.mark(run, "out/1")
    until(lambda: cable.streams() == 1 and cable.refused == times, far.page, 5 * times + 10)
    _catches_up(far.page, server, run)


def test_a_server_that_is_down_before_the_first_word_is_found_later(server: Server, cable: Cable, far: Station) -> None:
    run = server.run("relay", "0:04:00")
    cable.answer(503, 5)
    far.page.goto(f"/runs/{run}/desk")
    connecting = re.compile("Not connected for .* Figures as of 00:04:")
    expect(far.page.locator("#link")).to_contain_text(connecting, timeout=10_000)
    server.mark(run, "out/1")
    # After five refusals the next two waits are of up to 3 s and 5 s, and both may lie ahead.
    expect(far.page.locator("#link")).to_have_text("● Live", timeout=BACK_MS + 10_000)
    _catches_up(far.page, server, run)


def test_a_session_that_ended_is_said_with_the_way_back(server: Server, cable: Cable, far: Station) -> None:
    run = server.run("relay", "0:04:00")
    far.open(f"/runs/{run}/desk?x=1")
    cable.answer(401, 1_000)
    link = far.page.locator("#link")
    expect(link).to_contain_text("Signed out: sign in again. Figures as of 00:04:0", timeout=8_000)
    expect(link.get_by_role("link")).to_have_attribute("href", f"/sign-in?next=%2Fruns%2F{run}%2Fdesk%3Fx%3D1")
    cable.answer(401, 0)
    server.mark(run, "out/1")
    _catches_up(far.page, server, run)


@pytest.mark.parametrize("missing", [NO_WORKER, "window.SharedWorker = function () { throw new Error('not here'); }"])
def test_where_tabs_can_share_no_worker_each_page_holds_a_stream(
    server: Server, cable: Cable, far: Station, missing: str
) -> None:
    run = server.run("relay", "0:04:00")
    far.context.add_init_script(missing)
    far.open(f"/runs/{run}/desk")
    cable.cut()
    server.mark(run, "out/1")
    expect(far.page.locator("#link")).to_contain_text("Not connected for", timeout=8_000)
    cable.restore()
    _catches_up(far.page, server, run)
    assert _streams(cable)[-1] == f"/api/live?run={run}"


def test_a_worker_that_can_t_be_had_is_done_without(server: Server, far: Station) -> None:
    """Its script is asked for by no page, so the way to lose it is another address."""
    run = server.run("relay", "0:04:00")
    far.context.add_init_script(
        "const Real = SharedWorker; window.SharedWorker = function () { return new Real('/static/none.js'); }"
    )
    far.page.goto(f"/runs/{run}/desk")
    far.page.locator("#link.live").wait_for(timeout=BACK_MS)
    server.mark(run, "out/1")
    _catches_up(far.page, server, run)


def test_a_hidden_tab_goes_on_hearing(server: Server, far: Station) -> None:
    run = server.run("relay", "0:04:00")
    far.open(f"/runs/{run}/desk")
    far.page.evaluate(
        """() => {
            Object.defineProperty(document, "hidden", { get: () => true });
            Object.defineProperty(document, "visibilityState", { get: () => "hidden" });
            document.dispatchEvent(new Event("visibilitychange"));
        }"""
    )
    server.mark(run, "out/1")
    _catches_up(far.page, server, run)
    expect(far.band("ANA").locator("[data-undo]")).to_contain_text("Open the door")


def test_a_page_gone_back_to_is_live_again(server: Server, cable: Cable, far: Station) -> None:
    run = server.run("relay", "0:04:00")
    far.open(f"/runs/{run}/desk")
    far.page.goto("/api/docs")
    server.mark(run, "out/1")
    far.page.go_back()
    _catches_up(far.page, server, run)
    # And as a browser does that kept the page as it stood.
    far.page.evaluate("dispatchEvent(new PageTransitionEvent('pagehide', { persisted: true }))")
    server.order(run, "note", reason="while it was put by")
    far.page.evaluate("dispatchEvent(new PageTransitionEvent('pageshow', { persisted: true }))")
    _catches_up(far.page, server, run)
    assert cable.streams() == 1


def test_parts_that_could_not_be_fetched_are_fetched_again(server: Server, far: Station) -> None:
    run = server.run("relay", "0:04:00")
    far.open(f"/runs/{run}/desk")
    lost: list[str] = []

    def lose(route: Route) -> None:
        lost.append(route.request.url)
        if len(lost) == 1:
            route.abort()
        else:
            route.fulfill(status=503, body="not now") if len(lost) == 2 else route.continue_()

    far.page.route(re.compile(r"/desk\?have="), lose)
    server.mark(run, "out/1")
    expect(far.band("ANA").locator("[data-undo]")).to_contain_text("Open the door", timeout=10_000)
    assert len(lost) > 2
    _catches_up(far.page, server, run)


def test_a_restarted_server_is_found_by_every_tab(own_server: Server, station: NewStation) -> None:
    run = own_server.run("relay", "0:04:00")
    there = station(own_server)
    there.open(f"/runs/{run}/desk")
    home = there.tab("/")
    there.server_down = True
    for stop in (own_server.stop, own_server.kill):
        stop()
        own_server.start()
        own_server.order(run, "note", reason="after a restart")
        _catches_up(there.page, own_server, run)
        expect(home.locator("#link")).to_have_text("● Live", timeout=BACK_MS)


def test_an_ended_run_says_that_it_ended_and_how_the_link_is(server: Server, cable: Cable, far: Station) -> None:
    run = server.run("relay", "0:04:00")
    far.open(f"/runs/{run}/desk")
    server.order(run, "end", reason="rain")
    expect(far.page.locator(".bar .past")).to_contain_text("Ended at 00:04:0")
    expect(far.page.locator("#link")).to_have_text("● Live")
    cable.cut()
    expect(far.page.locator("#link")).to_contain_text("Not connected for", timeout=8_000)


def _streams(cable: Cable) -> list[str]:
    return [asked for asked in cable.asked if is_stream(asked)]
