"""A station whose clock is off is told so, by RFC 5905's formula, and Leadline goes by the server's all the same."""

import re
import time
from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

from tests.browser.cable import Cable, is_stream
from tests.browser.server import Server
from tests.browser.station import NewStation, Station

pytestmark = pytest.mark.browser


def _set_off(there: Station, ms: int) -> None:
    """Each page's wall clock is off by so much; `shiftMs` sets it otherwise later."""
    there.context.add_init_script(
        f"window.shiftMs = {ms}; {{ const real = Date.now.bind(Date); Date.now = () => real() + window.shiftMs; }}"
    )


def _sentence(page: Page) -> str:
    said = page.locator("#station-clock")
    expect(said).to_be_visible()
    return said.inner_text()


@pytest.mark.parametrize(
    ("times", "theta", "delta"),
    [
        ((1000.000, 1004.030, 1004.031, 1000.051), 4.005, 0.050),
        ((1000.000, 1004.045, 1004.046, 1000.051), 4.020, 0.050),
        ((1000.0, 998.0, 998.0, 1000.0), -2.0, 0.0),
    ],
)
def test_the_offset_is_that_of_the_published_formula(
    station: NewStation, times: tuple[float, ...], theta: float, delta: float
) -> None:
    """RFC 5905, 8. The first two are the check values of the design."""
    page = station().open("/")
    found = page.evaluate("times => leadline.offset(...times)", list(times))
    assert found == {"theta": pytest.approx(theta, abs=1e-9), "delta": pytest.approx(delta, abs=1e-9)}


def test_of_several_samples_that_of_the_least_delay_counts(station: NewStation) -> None:
    page = station().open("/")
    samples = [{"theta": 9, "delta": 3}, {"theta": 4, "delta": 1}, {"theta": 5, "delta": 2}, {"theta": 6, "delta": 1}]
    assert page.evaluate("samples => leadline.best(samples)", samples) == {"theta": 4, "delta": 1}
    assert page.evaluate("leadline.best([])") is None


@pytest.mark.parametrize(
    ("off_ms", "said"),
    [
        (-182_000, r"This station's clock is 3m 0[123]s behind the server's"),
        (4_020, r"This station's clock is [34]\.[0-9] s ahead of the server's"),
        (3_723_000, r"This station's clock is 1h 02m 0[234]s ahead of the server's"),
    ],
)
def test_a_clock_that_is_off_is_said_and_the_run_goes_by_the_server_s(
    server: Server, station: NewStation, off_ms: int, said: str
) -> None:
    run = server.run("relay", "0:04:00")
    there = station()
    _set_off(there, off_ms)
    page = there.open(f"/runs/{run}/desk")
    words = _sentence(page)
    assert re.match(said, words)
    error = re.search(r"\(± ([0-9.]+) s\)\. Leadline goes by the server's\.$", words)
    assert error is not None
    assert 0.01 <= float(error[1]) < 0.5
    before = int(server.ask(f"/runs/{run}")["at_s"])
    shown = page.evaluate("leadline.elapsedMs()") / 1000
    assert before - 0.2 <= shown <= int(server.ask(f"/runs/{run}")["at_s"]) + 1.2
    utc = page.locator("#utc").inner_text()
    now = time.time()
    assert utc in {f"UTC {time.strftime('%H:%M:%S', time.gmtime(now + off))}" for off in (-2, -1, 0, 1)}
    expect(there.tab("/").locator("#station-clock")).to_have_text(re.compile(said))


def test_a_clock_that_is_right_is_not_spoken_of(station: NewStation) -> None:
    there = station()
    _set_off(there, 300)
    page = there.open("/")
    there.page.wait_for_timeout(2_000)  # The first samples come within that.
    assert sum(asked.endswith("/api/time") for asked in there.asked) >= 3
    expect(page.locator("#station-clock")).to_be_hidden()


SLOW = """
    window.asked = 0;
    const real = window.fetch;
    window.fetch = async (...said) => {
        if (said[0] !== "/api/time") return real(...said);
        window.asked += 1;
        const first = window.asked === 1;
        if (!first) await new Promise((go) => { window.release = go; });
        const answer = await real(...said);
        if (first) await new Promise((go) => setTimeout(go, 4_000));
        return answer;
    };
"""
"""The first answer takes 4 s to come back, the others wait until they are released."""


def test_an_offset_that_a_slow_answer_may_have_made_is_not_spoken_of(station: NewStation) -> None:
    """By the first answer alone theta is -0.8 s, and may be wrong by 2 s; in truth it is +1.2 s."""
    there = station()
    _set_off(there, -1_200)
    there.context.add_init_script(SLOW)
    page = there.open("/")
    _until(page, "window.asked === 2")
    expect(page.locator("#station-clock")).to_be_hidden()
    page.evaluate("release()")
    assert re.search(r"clock is 1\.[0-9] s behind the server's", _sentence(page))


def _until(page: Page, claim: str, within_s: float = 15) -> None:
    """Wait until it holds on the page, whose policy lets no waiting predicate in."""
    end = time.monotonic() + within_s
    while not page.evaluate(claim):
        assert time.monotonic() < end, claim
        page.wait_for_timeout(50)


def test_a_clock_that_is_set_right_is_soon_not_spoken_of(station: NewStation) -> None:
    """The earlier samples, however good, are of another clock."""
    there = station()
    there.take_clock()
    _set_off(there, -60_000)
    page = there.open("/")
    expect(page.locator("#station-clock")).to_contain_text(re.compile("(1m|60.0 s|59.9 s) behind"))
    page.evaluate("window.shiftMs = -31_000")
    page.clock.fast_forward(31_000)  # The next sample's time has come, and the clock that is off by nothing.
    expect(page.locator("#station-clock")).to_be_hidden()


@pytest.fixture
def cable(server: Server) -> Iterator[Cable]:
    with Cable(server.port) as laid:
        yield laid


def test_a_station_that_slept_opens_its_stream_anew_and_finds_the_time(
    server: Server, cable: Cable, station: NewStation
) -> None:
    """Sleep stops the steady clock of a browser, not the wall clock."""
    run = server.run("relay", "0:04:00")
    there = station(cable)
    there.server_down = True
    _set_off(there, 0)
    page = there.open(f"/runs/{run}/desk")
    asked = sum(map(is_stream, cable.asked))
    assert page.evaluate("leadline.clockJumped()") is False
    assert page.evaluate("window.shiftMs = 3_600_000, leadline.clockJumped()") is True
    _until(page, "!leadline.clockJumped()")
    while sum(map(is_stream, cable.asked)) == asked:
        page.wait_for_timeout(50)
    expect(page.locator("#link")).to_have_text("● Live")
