"""Where to go in a run: events before and after a moment, what is jumped to, and where the lead turned."""

from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.core.events import Event, GoGiven, Logged, NoGoGiven, NoteAdded, RunEnded, StepMarked, TasksPutOff
from app.core.events_progress import MarkCorrected
from app.core.events_watch import FlagCleared, FlagRaised, PollAnswered, RoundAnswered
from app.core.fold import changes_from_s, fold, happened_s
from app.core.moments import Depth, Kind, Turn, after, around, before, depth_of, kind_of_jump, turns
from app.core.procedure import Procedure
from app.core.situation import Prepared, Situation
from tests.core.building import procedure, task
from tests.core.guesses import procedures, runs
from tests.core.running import Run, logged

RISING = st.lists(st.integers(0, 40), unique=True, max_size=12).map(sorted)
SLOW = [HealthCheck.too_slow, HealthCheck.data_too_large]


@given(seconds=RISING, at_s=st.integers(-2, 42))
def test_the_event_before_and_the_one_after_are_the_nearest_and_never_the_moment_itself(
    seconds: list[int], at_s: int
) -> None:
    assert before(seconds, at_s) == max([each for each in seconds if each < at_s], default=None)
    assert after(seconds, at_s) == min([each for each in seconds if each > at_s], default=None)


@given(seconds=RISING, at_s=st.integers(-2, 42), most=st.sampled_from([3, 4, 7]))
def test_what_is_shown_of_many_moments_are_the_nearest_on_both_sides_and_as_many_as_there_is_room_for(
    seconds: list[int], at_s: int, most: int
) -> None:
    shown = seconds[around(seconds, at_s, most)]
    assert len(shown) == min(most, len(seconds))
    assert {before(seconds, at_s), after(seconds, at_s)} - {None} <= set(shown)


@pytest.mark.parametrize(
    ("event", "kind"),
    [
        (NoGoGiven("a/1", "EV1", "wind"), Kind.NO_GO),
        (PollAnswered("poll-1", "EV1", False, "wind"), Kind.NO_GO),
        (PollAnswered("poll-1", "EV1", True), None),
        (GoGiven("a/1", "EV1"), None),
        (TasksPutOff(("a", "b"), "late"), Kind.PUT_OFF),
        (FlagRaised("torn glove"), Kind.FLAG),
        (RoundAnswered("gloves", "EV1", False, "a tear"), Kind.FLAG),
        (RoundAnswered("gloves", "EV1", True), None),
        (FlagCleared(3, "mended"), None),
        (RunEnded("done"), None),
    ],
)
def test_what_is_jumped_to(event: Event, kind: Kind | None) -> None:
    assert kind_of_jump(event) is kind


def test_below_zero_is_negative_and_behind_only_as_far_as_the_screens_say_behind() -> None:
    assert [depth_of(lead_s, 60) for lead_s in (1, 0, -1, -60, -61)] == [
        *(Depth.NOT_NEGATIVE, Depth.NOT_NEGATIVE, Depth.NEGATIVE, Depth.NEGATIVE, Depth.BEHIND)
    ]
    assert [depth_of(lead_s, 0) for lead_s in (0, -1)] == [Depth.NOT_NEGATIVE, Depth.BEHIND]


def found(made: Procedure, log: list[Logged], end_s: int) -> list[Turn]:
    """All turns from zero to `end_s`, stretch by stretch."""
    prepared, depth, all_of_them = Prepared(made), Depth.NOT_NEGATIVE, list[Turn]()
    edges = sorted({0, *(at_s for each in log for at_s in (happened_s(each), changes_from_s(each)))})
    for first_s, following in zip(edges, [*edges[1:], end_s + 1], strict=True):
        if first_s <= end_s:
            lead_at = _lead_at(prepared, log)
            some, depth = turns(lead_at, first_s, min(following - 1, end_s), depth, made.on_plan_within_s)
            all_of_them += some
    return all_of_them


def walked(made: Procedure, log: list[Logged], end_s: int) -> list[Turn]:
    """The same by looking at every second."""
    prepared, depth, all_of_them = Prepared(made), Depth.NOT_NEGATIVE, list[Turn]()
    for second in range(end_s + 1):
        now = depth_of(_lead_at(prepared, log)(second), made.on_plan_within_s)
        if now > depth:
            all_of_them.append(Turn(second, now))
        depth = now
    return all_of_them


def _lead_at(prepared: Prepared, log: list[Logged]) -> Callable[[int], int]:
    return lambda second: Situation(prepared, fold(log, until_s=second), second).lead_s


@settings(max_examples=60, deadline=None, suppress_health_check=SLOW)
@given(data=st.data())
def test_the_turns_are_those_that_a_walk_over_every_second_finds(data: st.DataObject) -> None:
    made = data.draw(procedures())
    _, log, now_s = data.draw(runs(made))
    assert found(made, list(log), now_s) == walked(made, list(log), now_s)


@settings(max_examples=60, deadline=None, suppress_health_check=SLOW)
@given(data=st.data())
def test_between_two_events_the_lead_never_rises(data: st.DataObject) -> None:
    """What the search rests on, windows, waits and work put off included."""
    made = data.draw(procedures())
    _, log, now_s = data.draw(runs(made))
    prepared, state = Prepared(made), fold(log)
    leads = [Situation(prepared, state, second).lead_s for second in range(now_s, now_s + 120)]
    assert leads == sorted(leads, reverse=True)


def test_a_step_that_runs_over_turns_the_lead_a_second_after_its_time_and_behind_after_the_minute() -> None:
    made = procedure(task("a", [100], who="EV1"), task("b", [50], who="EV2"), on_plan_within_s=60)
    run = Run(made).mark(b_1=50)
    assert found(made, run.log, 300) == [Turn(101, Depth.NEGATIVE), Turn(161, Depth.BEHIND)]
    run.mark(a_1=230)
    assert found(made, run.log, 300) == [Turn(101, Depth.NEGATIVE), Turn(161, Depth.BEHIND)]


def test_a_lead_that_was_lost_won_back_and_lost_again_turns_twice() -> None:
    first, second = task("a", [100], who="EV1"), task("b", [100], who="EV1", may_put_off=True)
    made = procedure(first, second, on_plan_within_s=0)
    log = [
        logged(1, 120, NoteAdded("slow")),
        logged(2, 130, TasksPutOff(("b",), "late")),
    ]
    assert found(made, log, 300) == walked(made, log, 300) == [Turn(101, Depth.BEHIND), Turn(201, Depth.BEHIND)]


def test_a_mark_that_was_corrected_turns_the_lead_when_it_was_really_made() -> None:
    made = procedure(task("a", [100], who="EV1"), on_plan_within_s=0)
    log = [logged(1, 90, StepMarked("a/1")), logged(2, 150, MarkCorrected("a/1", 90, 150, (), (), "misheard"), 200)]
    assert found(made, log, 300) == walked(made, log, 300) == [Turn(101, Depth.BEHIND)]
