"""The turn-back time on the bar of every page of a run: its words in each phase, and what ends it."""

import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from app.core.turn_back import WARN_S, Phase
from app.web.live import _signature
from app.web.views.bar import bar
from app.web.views.figures import figures, turn_back_words
from tests.web.site import Site, words

PAGES = ("desk", "lead", "list/EV1", "log", "plan")
PAST = ("desk", "lead", "list/EV1")
TEXT = b"""\
procedure: mast
title: Mast work
crew: {EV1: {does: Left}, EV2: {does: Right}}
limits: {finish: 2:00, close_out: home}
tasks:
  - task: rig
    title: Rig the mast
    who: EV1
    steps: [{do: Raise it, takes: 10 min}]
  - task: home
    title: Go home
    who: [EV1, EV2]
    after: [rig]
    steps:
      - {do: Walk back, takes: 10 min}
      - {do: Shut the door, takes: 2 min 30 s}
"""
BY_S = 2 * 3600 - 750
"""1:47:30: two hours minus the twelve and a half minutes of close-out."""
LATER = "Turn back by 01:47:30"
STRIP = "◆ Turn back in 12m 30s · by 01:47:30 at the latest, so that close-out ends by the limit 02:00:00"
ALARM = "■ TURN-BACK TIME PASSED 2m 05s ago . Close-out was not begun. The flight lead decides."
VOID = {"input", "br", "meta", "link"}


class _Shown(HTMLParser):
    """The text of what is not hidden."""

    def __init__(self) -> None:
        super().__init__()
        self.text: list[str] = []
        self._open: list[bool] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in VOID:
            self._open.append("hidden" in dict(attrs))

    def handle_endtag(self, tag: str) -> None:
        if tag not in VOID:
            self._open.pop()

    def handle_data(self, data: str) -> None:
        if not any(self._open):
            self.text.append(data)


def bar_of(page: str) -> str:
    found = re.search(r'<header id="bar".*?</header>', page, re.S)
    assert found is not None
    return found[0]


def shown(page: str) -> str:
    """What a reader of the bar sees, on one line."""
    reader = _Shown()
    reader.feed(bar_of(page))
    return " ".join(" ".join(reader.text).split())


@pytest.fixture
def run(site: Site) -> int:
    return site.start(TEXT)


@pytest.mark.parametrize("page", PAGES)
def test_every_page_says_it_quietly_then_counts_down_then_alarms(site: Site, run: int, page: str) -> None:
    expected = {0: LATER, BY_S - WARN_S - 1: LATER, BY_S - 750: STRIP, BY_S + 125: ALARM}
    for at_s, said in expected.items():
        site.clock.at_s = at_s
        top = shown(site.page(f"/runs/{run}/{page}"))
        assert said in top
        assert [each for each in (LATER, "◆", "■") if each in top] == [said if said == LATER else said[0]]


def test_its_own_second_is_said_to_be_now_and_the_next_one_is_past(site: Site, run: int) -> None:
    site.clock.at_s = BY_S
    assert "◆ Turn back now · by 01:47:30 at the latest" in shown(site.page(f"/runs/{run}/desk"))
    site.clock.at_s = BY_S + 1
    assert "■ TURN-BACK TIME PASSED 1s ago" in shown(site.page(f"/runs/{run}/desk"))


def test_the_alarm_is_an_alert_that_holds_nothing_that_is_read_out_each_second(site: Site, run: int) -> None:
    site.clock.at_s = BY_S + 125
    top = bar_of(site.page(f"/runs/{run}/desk"))
    (alert,) = re.findall(r'<p role="alert">(.*?)</p>', top, re.S)
    unread = re.sub(r'<span[^>]* aria-hidden="true">[^<]*</span>', "", alert)
    assert words(unread) == "TURN-BACK TIME PASSED . Close-out was not begun. The flight lead decides."


@pytest.mark.parametrize("page", PAST)
def test_a_past_moment_shows_it_as_it_stood_and_neither_counts_nor_sounds(site: Site, run: int, page: str) -> None:
    site.clock.at_s = BY_S + 300
    site.done(run, "rig/1", "home/1")
    assert "TURN-BACK" not in bar_of(site.page(f"/runs/{run}/{page}"))
    for at, said in {"1:35:00": STRIP, "1:49:35": ALARM}.items():
        then = site.page(f"/runs/{run}/{page}?at={at}")
        assert said in shown(then)
        for script in ("data-turn-back", "data-sound"):
            assert script not in bar_of(then)


def test_it_goes_when_close_out_is_begun_and_when_the_run_has_ended(site: Site, run: int) -> None:
    site.clock.at_s = BY_S + 125
    site.done(run, "rig/1")
    assert ALARM in shown(site.page(f"/runs/{run}/log"))
    site.order(run, "start", step="home/1")
    assert "urn back" not in bar_of(site.page(f"/runs/{run}/log"))
    other = site.start(TEXT)
    site.clock.at_s += BY_S + 125
    assert ALARM in shown(site.page(f"/runs/{other}/plan"))
    site.order(other, "end", reason="all in")
    top = bar_of(site.page(f"/runs/{other}/plan"))
    assert not [left for left in ("TURN-BACK", "Turn back", "data-phase", "data-sound") if left in top]


def test_a_run_without_a_limit_says_nothing_of_it(site: Site) -> None:
    top = bar_of(site.page(f"/runs/{site.start()}/desk"))
    assert not [left for left in ("TURN-BACK", "Turn back", "data-phase", "data-sound") if left in top]


def test_a_limit_that_no_start_can_keep_is_an_alarm_without_a_time(site: Site) -> None:
    dusk = TEXT.replace(b"tasks:\n", b"windows:\n  dusk: [[1:59, 3:00]]\ntasks:\n")
    run = site.start(dusk.replace(b"takes: 2 min 30 s}", b"takes: 2 min 30 s, within: dusk}"))
    top = bar_of(site.page(f"/runs/{run}/desk"))
    assert "■ NO TURN-BACK TIME IS LEFT. No start of close-out ends by the limit 02:00:00" in shown(top)
    assert "data-turn-back" not in top
    assert "None" not in top
    found = site.json(f"/api/runs/{run}")
    assert (found["turn_back_s"], found["turn_back_phase"]) == (None, "passed")


def test_the_counting_makes_no_part_changed_and_the_turn_does(site: Site, run: int) -> None:
    def mark(at_s: int) -> str:
        site.clock.at_s = at_s
        situation = site.shell.service.situation(run)
        # The bar's clock is painted by the page; without it only the turn-back can differ.
        still = replace(bar(run, situation, "log", False), elapsed="")
        values = {"bar": still, "page": "log", "figures": figures(situation), "replay": ""}
        return site.shell.renderer.part("bar", "_bar.html", **values).mark

    def phase(at_s: int) -> Phase:
        site.clock.at_s = at_s
        made = _signature(site.shell.service.situation(run))
        assert isinstance(made, tuple)
        (found,) = [each for each in made if isinstance(each, Phase)]
        return found

    assert mark(BY_S - 10) == mark(BY_S) != mark(BY_S + 1) == mark(BY_S + 10)
    assert [phase(BY_S - WARN_S - 1), phase(BY_S), phase(BY_S + 1)] == ["later", "soon", "passed"]


def test_the_words_on_the_stream_are_those_on_the_page_and_stand_still_until_it_is_counted(
    site: Site, run: int
) -> None:
    situation = site.shell.service.situation
    expected = {0: "", BY_S - WARN_S: "in 30m", BY_S: "now", BY_S + 3725: "1h 02m 05s ago"}
    for at_s, said in expected.items():
        site.clock.at_s = at_s
        assert turn_back_words(situation(run)) == said


def test_the_api_says_it(site: Site, run: int) -> None:
    site.clock.at_s = BY_S - 60
    found = site.json(f"/api/runs/{run}")
    assert (found["turn_back_s"], found["turn_back_phase"]) == (BY_S, "soon")
    site.done(run, "rig/1", "home/1")
    found = site.json(f"/api/runs/{run}")
    assert (found["turn_back_s"], found["turn_back_phase"]) == (None, None)
