"""The clock runs by the server's time, the figures change by themselves, and a lost server is said, not hidden."""

import re
import time

import pytest
from playwright.sync_api import Page, Route, expect

from tests.browser.kept import until
from tests.browser.server import Server
from tests.browser.station import NewStation, Station

pytestmark = pytest.mark.browser

BACK_MS = 10_000
"""A browser tries a lost stream anew after a second or a few."""


def _seconds(shown: str) -> int:
    """``02:14:37`` as seconds."""
    hours, minutes, seconds = (int(part) for part in shown.split(":"))
    return hours * 3600 + minutes * 60 + seconds


def _clock(page: Page) -> int:
    return _seconds(page.locator("[data-clock]").inner_text())


def _elapsed(server: Server, run: int) -> int:
    return int(server.ask(f"/runs/{run}")["at_s"])


def test_the_clock_ticks_each_second_and_agrees_with_the_server(server: Server, station: NewStation) -> None:
    run = server.run("relay", "0:59:57")
    page = station().open(f"/runs/{run}/desk")
    shown = [_clock(page)]

    def moved_on() -> bool:
        if (now := _clock(page)) != shown[-1]:
            shown.append(now)
        return len(shown) == 5

    until(moved_on, page, 5)
    assert shown == list(range(shown[0], shown[0] + 5)), "a second was left out"
    before, seen, after = _elapsed(server, run), _clock(page), _elapsed(server, run)
    assert before - 1 <= seen <= after + 1


def test_an_overrunning_step_costs_lead_second_by_second_without_a_reload(server: Server, station: NewStation) -> None:
    run = server.run("relay", "0:10:00")
    page = station().open(f"/runs/{run}/desk")
    team = page.locator('.bar [data-fig="lead"]')
    expect(team).to_have_text(re.compile("5m 0?[0-9]s behind"))
    first = team.inner_text()
    expect(team).not_to_have_text(first, timeout=3_000)
    expect(page.locator('[data-fig="timer-ANA"]')).to_have_text(re.compile(r"10m [0-9]{2}s of 5m"))


def test_a_person_who_falls_behind_is_shown_behind_without_a_press(server: Server, station: NewStation) -> None:
    run = server.run("relay", "0:05:51")
    there = station()
    there.open(f"/runs/{run}/desk")
    expect(there.band("ANA").locator(".who .lead")).to_have_class(re.compile("even"))
    expect(there.band("ANA").locator(".who .lead")).to_have_class(re.compile("behind"), timeout=14_000)
    expect(there.band("ANA").locator(".who .lead")).to_contain_text("behind")


@pytest.fixture
def cut_off(own_server: Server, station: NewStation) -> tuple[int, Station]:
    """A Desk with a value typed, and the clock of its page in our hand, whose server was just killed."""
    run = own_server.run("relay", "0:12:00")
    for step, at in (("out/1", "0:05"), ("out/2", "0:10")):
        own_server.mark(run, step, at)
    there = station(own_server)
    there.take_clock()
    there.open(f"/runs/{run}/desk")
    there.band("CHI").get_by_label("voltage").fill("1.5")
    there.server_down = True
    own_server.kill()
    return run, there


def test_a_lost_server_is_counted_and_grows_stale(cut_off: tuple[int, Station]) -> None:
    link = cut_off[1].page.locator("#link")
    expect(link).to_contain_text(re.compile(r"Not connected for [3-5] s\. Figures as of 00:12:0"), timeout=8_000)
    expect(link).to_contain_text(re.compile(r"Not connected for [6-8] s"))
    cut_off[1].page.clock.fast_forward(20_000)
    expect(link).to_contain_text(re.compile(r"STALE: not connected for 2[6-9] s"))


def _press_while_down(there: Station) -> None:
    there.done("CHI").click()
    expect(there.page.locator("#kept")).to_have_text("kept here, 1 waiting")


def test_a_press_while_the_server_is_down_is_kept_and_looks_not_done(
    cut_off: tuple[int, Station], own_server: Server
) -> None:
    run, there = cut_off
    _press_while_down(there)
    expect(there.band("CHI")).to_contain_text("Pull the breaker: Done, 00:12:0")
    expect(there.band("CHI")).to_contain_text("kept here, not yet acknowledged")
    expect(there.band("CHI").locator("[data-undo]:visible")).to_have_count(0)
    own_server.start()
    until(lambda: "cut/1" in own_server.marked(run), there.page, BACK_MS / 1000)


def test_after_a_restart_the_page_catches_up_and_what_was_kept_marks_once(
    cut_off: tuple[int, Station], own_server: Server
) -> None:
    run, there = cut_off
    _press_while_down(there)
    before, lost_at = _clock(there.page), time.monotonic()
    own_server.start()
    own_server.order(run, "note", reason="the other station was quicker")
    own_server.mark(run, "sweep/1")
    expect(there.page.locator("#link")).to_have_text("● Live", timeout=BACK_MS)
    expect(there.band("BEN").locator("[data-undo]")).to_contain_text("Sweep it clean")
    gone = time.monotonic() - lost_at
    assert abs(_clock(there.page) - before - gone) <= 1.5, "the clock jumped"
    assert abs(_clock(there.page) - _elapsed(own_server, run)) <= 1
    expect(there.band("CHI").locator("[data-undo]:visible")).to_contain_text("Pull the breaker", timeout=BACK_MS)
    expect(there.page.locator("#kept")).to_be_hidden()
    marks = [each for each in own_server.events(run) if each["body"].get("step") == "cut/1"]
    assert [each["body"]["values"] for each in marks] == [[["voltage", 1.5]]]


def test_a_press_whose_answer_was_lost_is_shown_as_done_and_marks_once(own_server: Server, station: NewStation) -> None:
    """The mark reached the disk, but the answer did not reach the page, which sends it again with the same key."""
    run = own_server.run("relay", "0:04:00")
    there = station(own_server)
    there.open(f"/runs/{run}/desk")
    there.server_down = True
    sent: list[str] = []

    def lose(route: Route) -> None:
        answer = route.fetch().text()
        sent.append("repeated" if '"repeated":true' in answer else "first")
        if len(sent) == 1:
            route.abort()
        else:
            route.fulfill(content_type="application/json", body=answer)

    there.page.route("**/orders", lose)
    there.done("ANA").click()
    expect(there.band("ANA").locator("[data-undo]:visible")).to_contain_text("Open the door", timeout=BACK_MS)
    until(lambda: len(sent) == 2, there.page)  # The stream may tell of the mark before it is sent again.
    expect(there.page.locator("#kept")).to_be_hidden()
    assert sent == ["first", "repeated"]
    assert own_server.marked(run) == ["out/1"]
