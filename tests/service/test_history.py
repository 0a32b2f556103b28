"""The leads kept from look to look are those that computing all anew gives, late entries included."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.commands import MarkStep
from app.core.events import Event, Logged, NoteAdded, StartRecorded, StepMarked, StepReopened, TasksPutOff
from app.core.events_progress import MarkCorrected
from app.core.fold import fold
from app.core.lead_so_far import LeadPoint, lead_point, moments, step_for
from app.core.situation import Prepared
from app.core.state import State
from app.service import history
from app.service.history import LeadHistory
from app.service.live_run import LiveRun
from app.service.runs import Service
from app.service.values import Sender
from app.store.clock import RunClock
from app.store.library import StoredRun
from app.web.keys import new_key
from tests.core.building import procedure, task
from tests.core.running import logged
from tests.service.making import BEGUN, SetClock, small_run

PREPARED = Prepared(
    procedure(
        task("a", [600, 900, 300], who="EV1"),
        task("b", [1200, 600], who="EV2", after=["a/1"]),
        task("c", [700], who="EV1", may_put_off=True),
    )
)
EVENTS: list[Event] = [
    StepMarked("a/1"),
    StepMarked("a/2"),
    StepMarked("b/1"),
    StepReopened("a/1", "slip"),
    StartRecorded("b/2"),
    NoteAdded("well"),
    TasksPutOff(("c",), "late"),
    MarkCorrected("a/1", 300, 900, (), (), "heard wrong"),
    MarkCorrected("a/1", 900, 200, (), (), "wrong again"),
]


def live(log: list[Logged]) -> LiveRun:
    clock = RunClock(SetClock().server(), 0)
    return LiveRun(StoredRun(1, "revision", "rehearsal", BEGUN, BEGUN), PREPARED, log, lambda *_: clock)


def anew(log: list[Logged], until_s: int) -> tuple[LeadPoint, ...]:
    """By the rule alone: each moment from the whole log."""
    return tuple(lead_point(PREPARED, fold(log, until_s=at_s), at_s) for at_s in moments(until_s, step_for(until_s)))


@settings(max_examples=60, deadline=None)
@given(
    told=st.lists(st.tuples(st.sampled_from(EVENTS), st.integers(0, 2_000), st.integers(0, 600)), max_size=12),
    looks=st.lists(st.integers(0, 12_000), max_size=3),
)
def test_what_is_kept_is_what_computing_all_anew_gives_marks_entered_late_included(
    told: list[tuple[Event, int, int]], looks: list[int]
) -> None:
    run, kept, now_s = live([]), LeadHistory(), 0
    for event, late_s, more_s in told:
        now_s += more_s
        assert kept.points(run, now_s) == anew(run.log, now_s)
        run.committed((logged(len(run.log) + 1, max(0, now_s - late_s), event, now_s),))
    for until_s in (now_s, *looks, now_s + 9_000):
        assert kept.points(run, until_s) == anew(run.log, until_s)


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The seconds of the samples that were computed."""
    seconds: list[int] = []

    def noted(prepared: Prepared, state: State, at_s: int) -> LeadPoint:
        seconds.append(at_s)
        return lead_point(prepared, state, at_s)

    monkeypatch.setattr(history, "lead_point", noted)
    return seconds


def test_the_next_look_makes_only_what_is_new(made: list[int]) -> None:
    run, kept = live([logged(1, 610, StepMarked("a/1"))]), LeadHistory()
    kept.points(run, 1_000)
    assert made == [*range(0, 1_000, 30), 1_000]
    made.clear()
    kept.points(run, 1_045)
    assert made == [1_020, 1_045]


def test_a_mark_entered_late_makes_anew_what_comes_from_its_second_on(made: list[int]) -> None:
    run, kept = live([]), LeadHistory()
    kept.points(run, 900)
    made.clear()
    run.committed((logged(1, 810, StepMarked("a/1"), 900),))
    kept.points(run, 900)
    assert made == [810, 840, 870, 900]


def test_a_correction_makes_anew_what_comes_from_the_old_time_on(made: list[int]) -> None:
    run, kept = live([logged(1, 750, StepMarked("a/1"))]), LeadHistory()
    kept.points(run, 900)
    made.clear()
    run.committed((logged(2, 870, MarkCorrected("a/1", 750, 870, (), (), "heard wrong"), 900),))
    kept.points(run, 900)
    assert made == [750, 780, 810, 840, 870, 900]


def test_a_grid_that_grows_coarser_keeps_the_samples_it_shares_with_the_finer_one(made: list[int]) -> None:
    run, kept = live([]), LeadHistory()
    kept.points(run, 7_110)
    made.clear()
    kept.points(run, 7_230)
    assert made == [7_140, 7_200, 7_230]


def test_seconds_off_the_grid_are_not_kept(made: list[int]) -> None:
    run, kept = live([]), LeadHistory()
    for second in (61, 62, 63):
        kept.points(run, second)
    assert made == [0, 30, 60, 61, 62, 63]


def test_the_points_up_to_an_earlier_moment_are_those_of_that_moment(service: Service, clock: SetClock) -> None:
    run = small_run(service)
    clock.at_s = 300
    service.order(run, MarkStep("rig/1"), Sender("Ground", "station 1", new_key()), 200).result()
    clock.at_s = 1_500
    kept = LeadHistory()
    for at_s in (1_500, 199, 200, 640):
        shown = service.situation(run, at_s)
        last = kept.points(service.run(run), at_s)[-1]
        assert last == LeadPoint(at_s, shown.lead_s, tuple(view.lead_s for view in shown.crew))
