"""What comes late over the link is known to be late: on a slow link, after a sleep, from a server that came back."""

import re

import pytest
from playwright.sync_api import expect

from tests.browser.cable import Cable
from tests.browser.kept import until
from tests.browser.server import Server
from tests.browser.station import NewStation, Station

pytestmark = pytest.mark.browser

SLOW = 600
"""Bytes in a second; a stream of one run says some 900."""


@pytest.fixture
def asleep(far: Station) -> Station:
    """A station that holds its own stream, and whose wall clock `window.sleptMs` sets on, as a sleep does that the
    steady clock of the browser does not count."""
    far.context.add_init_script(
        "delete window.SharedWorker; window.sleptMs = 0;"
        "{ const real = Date.now.bind(Date); Date.now = () => real() + window.sleptMs; }"
    )
    return far


def test_figures_that_come_late_over_a_slow_link_are_said_to_be_old_and_the_clock_stays_right(
    server: Server, cable: Cable, far: Station
) -> None:
    run = server.run("relay", "0:10:00")
    page = far.open(f"/runs/{run}/desk")
    cable.slow(SLOW)
    expect(page.locator("#link")).to_have_text(re.compile("Not connected|STALE"), timeout=40_000)
    age_ms, gap_ms = page.evaluate("[leadline.silentMs(), leadline.arrivedMs()]")
    assert age_ms > gap_ms + 1_000, "nothing came, so this tried something else"
    for _ in range(5):
        page.wait_for_timeout(1_000)
        shown = page.evaluate("leadline.elapsedMs()") / 1000
        assert abs(shown - server.ask(f"/runs/{run}")["at_s"]) < 2
    cable.cut()
    far.done("ANA").click()
    pressed = page.evaluate("leadline.elapsedMs()") / 1000
    cable.slow(None)
    cable.restore()
    until(lambda: server.marked(run) == ["out/1"], page, 40)
    (mark,) = [each for each in server.events(run) if each["kind"] == "StepMarked"]
    assert abs(mark["at_s"] - pressed) < 2
    expect(page.locator("#link")).to_have_text("● Live", timeout=40_000)


def test_what_was_sent_before_a_sleep_and_comes_after_it_tells_no_time(
    server: Server, cable: Cable, asleep: Station
) -> None:
    run = server.run("relay", "0:10:00")
    page = asleep.open(f"/runs/{run}/desk")
    cable.hold()
    page.wait_for_timeout(2_200)
    cable.go_dead()
    page.evaluate("window.sleptMs = 3_600_000")
    assert cable.deliver() > 0
    page.wait_for_timeout(1_000)
    assert page.evaluate("leadline.clockJumped()"), "a word of before the sleep made it forget the sleep"
    cable.restore()
    until(lambda: not page.evaluate("leadline.clockJumped()"), page, 40)
    expect(page.locator("#link")).to_have_text("● Live", timeout=40_000)


def test_a_stream_that_has_to_begin_anew_does_so_whoever_opens_it(station: NewStation) -> None:
    """A tab that goes to another page amid the wait before the next try opens it first; its word was lost once."""
    page = station().open("/")
    said = page.evaluate(
        """async () => {
          const said = [];
          const told = () => new Promise((done) => { tell = done; });
          let tell;
          await new Promise((done) => {
            const script = document.createElement("script");
            script.src = "/static/stream.js";
            script.onload = done;
            document.head.append(script);
          });
          const stream = new LiveStream((word) => word.kind === "open" && (said.push(word.again), tell()));
          const anew = () => { stream.lost(); stream.watch([0, 1]); };
          const steps = [() => stream.watch([0]), anew, () => stream.watch([0])];
          for (const step of steps) {
            const opened = told();
            step();
            await opened;
          }
          stream.watch([]);
          return said;
        }"""
    )
    assert said == [False, True, False]


def test_of_readings_of_the_servers_clock_the_earliest_counts_until_it_cannot_be(station: NewStation) -> None:
    page = station().open("/")
    late = page.evaluate(
        """() => {
          const clock = new ServerClock();
          const readings = [[0, 1_000], [1_000, 2_500], [4_000, 6_900], [5_000, 6_100]];
          const late = readings.map(([ms, at]) => clock.take("a", ms, at));
          late.push(clock.take("b", 7, 9_000)); // another process: its clock is another
          clock.answered("b", 1_000, 9_990, 10_000);
          late.push(clock.zero);
          clock.answered("b", 2_000, 70_990, 71_000); // a minute in which that machine stood still
          late.push(clock.zero);
          return late;
        }"""
    )
    assert late == pytest.approx([0, 500, 1_900, 100, 0, 8_993.5, 69_000], abs=5)


def test_another_server_whose_steady_clock_begins_elsewhere_sets_elapsed_nowhere_else(
    server: Server, station: NewStation
) -> None:
    """As after the machine was started again, or on another one: a sign of life comes before the first figures."""
    run = server.run("relay", "0:10:00")
    page = station().open(f"/runs/{run}/desk")
    shown = page.evaluate(
        """() => {
          const before = leadline.elapsedMs();
          const utc = leadline.utcMs();
          leadline.serverSaid("another", 5_000, performance.now());
          return [leadline.elapsedMs() - before, leadline.utcMs() - utc];
        }"""
    )
    assert shown == pytest.approx([0, 0], abs=100)
    page.wait_for_timeout(2_500)
    assert abs(page.evaluate("leadline.elapsedMs()") / 1000 - server.ask(f"/runs/{run}")["at_s"]) < 2


def test_a_press_after_the_server_s_machine_stood_still_is_not_of_the_future(
    server: Server, station: NewStation
) -> None:
    """Its steady clock did not count that time, as when a virtual machine is paused; the page's did."""
    run = server.run("relay", "0:10:00")
    there = station()
    there.take_clock()
    page = there.open(f"/runs/{run}/desk")
    page.wait_for_timeout(2_000)
    page.clock.fast_forward(2_900)
    there.done("ANA").click()
    expect(there.band("ANA")).to_contain_text("Walk to the box")
    until(lambda: abs(page.evaluate("leadline.elapsedMs()") / 1000 - server.ask(f"/runs/{run}")["at_s"]) <= 1.5, page)
    assert server.marked(run) == ["out/1"]
    assert "Not done" not in page.locator("#notice").inner_text()
