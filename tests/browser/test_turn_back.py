"""The turn-back time counts down on the page's own clock, turns without the server, and sounds only when it may."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.server import Server
from tests.browser.station import NewStation, Station

pytestmark = pytest.mark.browser

AXE = (Path(__file__).parents[1] / "vendor" / "axe.min.js").read_text(encoding="utf-8")
BY = "01:55:00"
"""In the relay sample: the limit of two hours minus the five minutes of coming home."""
LATER, SOON, PASSED = "1:00:00", "1:42:30", "1:57:00"
ALARM = re.compile(r"TURN-BACK TIME PASSED \d+s ago\. Close-out was not begun\. The flight lead decides\.")
EARS = """
  window.tones = [];
  window.AudioContext = class {
    state = START;
    currentTime = 0;
    destination = {};
    resume() { if (navigator.userActivation.isActive) this.state = "running"; return Promise.resolve(); }
    createGain() { return { gain: {}, connect() {} }; }
    createOscillator() {
      return { frequency: {}, connect() {}, start(at) { window.tones.push(at); }, stop() {} };
    }
  };
"""
"""Writes down each tone that is asked for. START: whether the browser lets a page sound before it was pressed."""


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server of this module's own: its many runs would stand in the way on the Home page of the common one."""
    with Server(tmp_path_factory.mktemp("turn-back")) as started:
        yield started


def listening(there: Station, start: str = "running") -> Station:
    there.context.add_init_script(EARS.replace("START", f'"{start}"'))
    return there


def begin_close_out(server: Server, run: int) -> None:
    for step in ("out/1", "out/2"):
        server.mark(run, step)
    server.mark(run, "cut/1", voltage=1.0)
    server.mark(run, "cut/2")
    for person in ("BEN", "CHI"):
        server.order(run, "go", step="swap/1", person=person)
    for step in ("swap/1", "swap/2"):
        server.mark(run, step)
    server.order(run, "start", step="home/1")


def tones(page: Page) -> int:
    return int(page.evaluate("window.tones.length"))


def seconds(text: str) -> int:
    """``12m 30s`` or ``00:12:30`` as seconds."""
    if ":" in text:
        hours, minutes, rest = (int(part) for part in text.split(":"))
        return hours * 3600 + minutes * 60 + rest
    size = {"h": 3600, "m": 60, "s": 1}
    return sum(int(count) * size[unit] for count, unit in re.findall(r"(\d+)([hms])", text))


def test_the_strip_counts_down_each_second_with_the_clock(server: Server, station: NewStation) -> None:
    page = station().open(f"/runs/{server.run('relay', SOON)}/desk")
    strip = page.locator("#turn-back-soon")
    expect(strip).to_have_text(
        re.compile(
            rf"◆\s+Turn back in 12m 2\ds\s+· by {BY} at the latest, so that close-out ends by the limit 02:00:00"
        )
    )
    shown = []
    for _ in range(3):
        now, left = page.evaluate(
            "[document.querySelector('[data-clock]').textContent,"
            " document.querySelector('#turn-back-soon [data-fig]').textContent]"
        )
        assert seconds(now) + seconds(left) == seconds(BY)
        shown.append(seconds(left))
        page.wait_for_timeout(1_300)  # The figure is painted a little after each second.
    assert shown[0] > shown[1] > shown[2]


@pytest.mark.parametrize("path", ["desk", "lead", "list/CHI", "log", "plan"])
def test_the_alarm_comes_by_itself_on_every_page(server: Server, station: NewStation, path: str) -> None:
    page = listening(station()).open(f"/runs/{server.run('relay', '1:54:53')}/{path}")
    expect(page.locator("#turn-back-soon")).to_be_visible()
    expect(page.get_by_role("alert")).to_have_text(ALARM, timeout=10_000)
    expect(page.locator("#turn-back-soon")).to_be_hidden()


def test_the_page_writes_a_long_time_as_the_server_does(server: Server, station: NewStation) -> None:
    run = server.run("relay", "2:57:00")
    page = listening(station()).open(f"/runs/{run}/desk")
    page.wait_for_timeout(400)
    expect(page.get_by_role("alert")).to_contain_text(re.compile(r"PASSED 1h 02m( 0\ds)? ago"))
    at_once = server.run("relay", "1:55:00")
    page.goto(f"/runs/{at_once}/desk")
    expect(page.get_by_role("alert")).to_contain_text(re.compile(r"PASSED [1-9]s ago"))


def test_all_phases_turn_without_the_server(own_server: Server, station: NewStation) -> None:
    run = own_server.run("relay", "1:24:30")
    there = listening(station(own_server))
    there.take_clock()
    page = there.open(f"/runs/{run}/desk")
    expect(page.locator("#turn-back-later")).to_have_text(f"Turn back by {BY}")
    there.server_down = True
    own_server.kill()
    page.clock.fast_forward(40_000)
    expect(page.locator("#turn-back-soon")).to_contain_text(re.compile(r"Turn back in 29m [45]\d?s"))
    expect(page.locator("#turn-back-later")).to_be_hidden()
    page.clock.fast_forward(1_800_000)
    expect(page.get_by_role("alert")).to_have_text(ALARM)
    expect(page.locator("#turn-back-soon")).to_be_hidden()
    expect(page.locator("#link")).to_contain_text("STALE")
    assert tones(page) == 3


def test_three_beeps_are_repeated_while_the_alarm_stands_and_stop_when_close_out_is_begun(
    server: Server, station: NewStation
) -> None:
    run = server.run("relay", PASSED)
    there = listening(station())
    there.take_clock()
    page = there.open(f"/runs/{run}/desk")
    page.wait_for_function("window.tones.length === 3")
    page.clock.fast_forward(5_000)
    page.wait_for_timeout(500)
    assert tones(page) == 3
    page.clock.fast_forward(5_000)
    page.wait_for_function("window.tones.length === 6")
    begin_close_out(server, run)
    expect(page.locator("#turn-back-passed")).to_have_count(0)
    expect(page.get_by_role("button", name="Alarm sound")).to_have_count(0)
    page.clock.fast_forward(15_000)
    page.wait_for_timeout(500)
    assert tones(page) == 6


def test_there_is_no_sound_before_the_time(server: Server, station: NewStation) -> None:
    page = listening(station()).open(f"/runs/{server.run('relay', SOON)}/desk")
    page.keyboard.press("1")
    page.wait_for_timeout(600)
    assert tones(page) == 0


def test_sound_switched_off_is_off_on_every_page_of_the_station_and_after_a_reload(
    server: Server, station: NewStation
) -> None:
    run = server.run("relay", LATER)
    there = listening(station())
    page = there.open(f"/runs/{run}/desk")
    switch = page.get_by_role("button", name="Alarm sound")
    expect(switch).to_have_text(re.compile("Alarm sound: on"))
    page.keyboard.press("s")
    expect(switch).to_have_attribute("aria-pressed", "false")
    expect(switch).to_have_text(re.compile("Alarm sound: off"))
    page.reload()
    expect(switch).to_have_attribute("aria-pressed", "false")
    there.open(f"/runs/{server.run('relay', PASSED)}/lead")
    expect(page.get_by_role("alert")).to_be_visible()
    page.wait_for_timeout(600)
    assert tones(page) == 0
    expect(page.locator("[data-sound-locked]")).to_be_hidden()
    switch.click()
    expect(switch).to_have_attribute("aria-pressed", "true")
    page.wait_for_function("window.tones.length === 3")


def test_the_switch_keeps_its_state_when_the_bar_is_drawn_anew(server: Server, station: NewStation) -> None:
    run = server.run("relay", LATER)
    page = listening(station()).open(f"/runs/{run}/desk")
    switch = page.get_by_role("button", name="Alarm sound")
    switch.click()
    server.mark(run, "out/1", "0:05")
    expect(page.locator('section.band[aria-label="ANA"]')).to_contain_text("Walk to the box")
    page.wait_for_timeout(500)
    expect(switch).to_have_attribute("aria-pressed", "false")
    expect(switch).to_have_text(re.compile("Alarm sound: off"))
    expect(page.get_by_role("button", name="Keys", exact=False)).to_be_visible()


def test_a_page_that_may_not_sound_yet_says_so_and_sounds_from_the_first_press_on(
    server: Server, station: NewStation
) -> None:
    page = listening(station(), "suspended").open(f"/runs/{server.run('relay', PASSED)}/desk")
    locked = page.get_by_text("(press any key on this page to let it sound)")
    expect(locked).to_be_visible()
    assert tones(page) == 0
    page.keyboard.press("1")
    expect(locked).to_be_hidden()
    page.wait_for_function("window.tones.length === 3")


def test_a_real_browser_sounds_once_the_page_was_pressed(server: Server, station: NewStation) -> None:
    """That it complains of nothing is what every station is watched for."""
    page = station().open(f"/runs/{server.run('relay', '1:54:56')}/desk")
    page.keyboard.press("1")
    expect(page.get_by_role("alert")).to_be_visible(timeout=8_000)
    page.wait_for_timeout(1_000)
    expect(page.locator("[data-sound-locked]")).to_be_hidden()


def test_a_past_moment_shows_the_alarm_without_a_sound(server: Server, station: NewStation) -> None:
    run = server.run("relay", "1:58:00")
    server.order(run, "end", reason="called in")
    page = listening(station()).open(f"/runs/{run}/desk?at=1:57:05", live=False)
    expect(page.get_by_role("alert")).to_contain_text("TURN-BACK TIME PASSED 2m 05s ago")
    page.keyboard.press("s")
    page.wait_for_timeout(600)
    expect(page.get_by_role("alert")).to_contain_text("TURN-BACK TIME PASSED 2m 05s ago")
    assert tones(page) == 0
    expect(page.locator("[data-sound]")).to_have_count(0)


@pytest.mark.parametrize("running", [LATER, SOON, PASSED])
@pytest.mark.parametrize("theme", ["dark", "light"])
def test_axe_finds_nothing_in_any_phase_and_no_width_scrolls_sideways(
    server: Server, station: NewStation, running: str, theme: str
) -> None:
    there = listening(station(), "suspended")
    there.context.add_init_script(f"localStorage.setItem('leadline-theme', '{theme}')")
    page = there.open(f"/runs/{server.run('relay', running)}/desk")
    if running == PASSED:
        expect(page.locator("[data-sound-locked]")).to_be_visible()
    page.evaluate(AXE)
    found = page.evaluate("axe.run('.bar', { resultTypes: ['violations'] })")
    assert [(each["id"], [node["html"] for node in each["nodes"]]) for each in found["violations"]] == []
    for width in (390, 768, 1440, 2560):
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.scrollingElement.scrollWidth") <= width


@pytest.mark.parametrize("media", [{"forced_colors": "active"}, {"media": "print"}], ids=["forced-colors", "print"])
def test_the_alarm_stands_out_without_its_colours(server: Server, station: NewStation, media: dict[str, str]) -> None:
    there = listening(station())
    there.page.emulate_media(**media)  # type: ignore[arg-type]  # one of two keywords
    page = there.open(f"/runs/{server.run('relay', PASSED)}/desk", live="media" not in media)
    expect(page.locator("#turn-back-passed .shape")).to_have_text("■")
    expect(page.get_by_role("alert")).to_have_text(re.compile("TURN-BACK TIME PASSED"))
    edge = page.locator("#turn-back-passed").evaluate("each => getComputedStyle(each).borderTopWidth")
    assert edge == "4px"
    assert page.locator("#turn-back-passed").evaluate("each => getComputedStyle(each).animationName") == "none"
