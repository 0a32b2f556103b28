"""The moments kept from look to look are those that looking through the whole log anew gives."""

from collections.abc import Mapping

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.core.events import Event, Logged, NoGoGiven, NoteAdded, RunEnded, StepMarked, TasksPutOff
from app.core.events_progress import ActionsDone, MarkCorrected
from app.core.events_rehearsal import InjectSet
from app.core.events_watch import FlagRaised
from app.core.fold import fold, happened_s
from app.core.moments import Depth, Kind, Turn, depth_of
from app.core.situation import Situation
from app.core.state import Done
from app.service.live_run import LiveRun
from app.service.seeking import RunMoments
from tests.core.running import logged
from tests.service.test_history import EVENTS, PREPARED, live

WITHIN_S = PREPARED.procedure.on_plan_within_s
FOREVER = 60.0
"""Seconds to look: more than any of these runs takes."""


def walked(log: list[Logged], end_s: int) -> list[Turn]:
    """By every second of the run."""
    depth, found = Depth.NOT_NEGATIVE, list[Turn]()
    for second in range(end_s + 1):
        now = depth_of(Situation(PREPARED, fold(log, until_s=second), second).lead_s, WITHIN_S)
        if now > depth:
            found.append(Turn(second, now))
        depth = now
    return found


def ended(told: list[Logged], end_s: int = 1_400) -> LiveRun:
    return live([*told, logged(len(told) + 1, end_s, RunEnded("done"))])


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    told=st.lists(st.tuples(st.sampled_from(EVENTS), st.integers(0, 900), st.integers(0, 400)), max_size=8),
    grows_at=st.integers(0, 8),
)
def test_turns_found_while_the_log_grew_are_those_of_every_second_of_the_whole_log(
    told: list[tuple[Event, int, int]], grows_at: int
) -> None:
    whole = [logged(seq, at_s, event, at_s + late_s) for seq, (event, at_s, late_s) in enumerate(told, start=1)]
    run, moments = ended(whole[:grows_at], 1_000), RunMoments()
    moments.found(run, FOREVER)
    for each in whole[grows_at:]:
        run.committed((logged(len(run.log) + 1, each.at_s, each.event, each.logged_s),))
    found = moments.found(run, FOREVER)
    assert found.complete
    assert list(found.turns) == walked(run.log, run.now_s())
    assert list(found.seconds) == seconds_of(run.log)


def seconds_of(log: list[Logged]) -> list[int]:
    """Each entry at its second, but for a mark of which a later entry says that it was made at another one."""
    return sorted(
        {
            happened_s(each)
            for place, each in enumerate(log)
            if not isinstance(each.event, StepMarked | MarkCorrected)
            or all(
                not isinstance(later.event, MarkCorrected)
                or later.event.now_s == later.event.was_s
                or (later.event.step, later.event.was_s) != (each.event.step, happened_s(each))
                for later in log[place + 1 :]
            )
        }
    )


def test_without_time_to_look_entries_are_known_and_turns_are_not() -> None:
    told = [logged(1, 100, NoteAdded("a")), logged(2, 200, NoGoGiven("a/1", "EV1", "wind"))]
    run, moments = ended(told), RunMoments()
    found = moments.found(run, 0)
    assert [each.at_s for each in found.entries[Kind.NO_GO]] == [200]
    assert (found.looked_s, found.complete) == (0, False)
    assert moments.found(run, FOREVER).complete


def test_a_little_time_looks_a_little_further_each_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """By a clock that goes on by a second at each look, three looks of two seconds go further each time."""
    seconds = iter(range(10_000))
    monkeypatch.setattr("app.service.seeking.time.monotonic", lambda: next(seconds))
    run, moments = ended([logged(seq, 100 * seq, NoteAdded("a")) for seq in range(1, 10)]), RunMoments()
    looked = [moments.found(run, 2).looked_s for _ in range(3)]
    assert 0 < looked[0] < looked[1] < looked[2] < 1_400


def test_the_stretch_since_the_last_event_is_always_looked_through() -> None:
    run, moments = ended([]), RunMoments()
    found = moments.found(run, 0)
    assert not found.complete
    run = live([])
    assert moments.found(run, 0).complete


def test_entries_stand_in_order_of_when_they_happened() -> None:
    told: list[tuple[Event, int]] = [(FlagRaised("b"), 300), (FlagRaised("a"), 100), (TasksPutOff(("c",), "late"), 50)]
    run = ended([logged(seq, at_s, event) for seq, (event, at_s) in enumerate(told, start=1)])
    found = RunMoments().found(run, 0)
    assert [each.at_s for each in found.entries[Kind.FLAG]] == [100, 300]
    assert [each.at_s for each in found.entries[Kind.PUT_OFF]] == [50]


def test_what_is_kept_from_trainees_is_no_moment() -> None:
    run = ended([logged(1, 70, InjectSet("inject-1", "delay", 500, step="a/1", by_s=60))])
    assert list(RunMoments().found(run, 0).seconds) == [1_400]


def test_a_corrected_mark_is_a_moment_when_it_was_made_and_not_when_it_was_corrected() -> None:
    corrected = MarkCorrected("a/1", 300, 900, (), (), "misheard")
    run = ended([logged(1, 300, StepMarked("a/1")), logged(2, 300, corrected, 1_200)])
    assert list(RunMoments().found(run, 0).seconds) == [900, 1_400]


@pytest.mark.parametrize("grows_at", range(6))
def test_at_each_moment_of_a_run_with_corrected_marks_something_is_seen(grows_at: int) -> None:
    """And at no other second, however often a mark was corrected, and whatever else happened at its old time."""
    told: list[tuple[Event, int]] = [
        (StepMarked("a/1"), 300),
        (StepMarked("b/1"), 300),
        (MarkCorrected("a/1", 300, 900, (), (), "misheard"), 300),
        (MarkCorrected("a/1", 900, 200, (), (), "misheard again"), 900),
        (StepMarked("a/2"), 500),
        (MarkCorrected("a/2", 500, 600, (), (), "misheard"), 500),
    ]
    whole = [logged(seq, at_s, event, 1_000) for seq, (event, at_s) in enumerate(told, start=1)]
    run, moments = live(whole[:grows_at]), RunMoments()
    moments.found(run, 0)
    run.committed(tuple(whole[grows_at:]))
    done = [fold(whole, until_s=second).done for second in range(-1, 1_400)]
    seen = [second for second in range(1_400) if _times(done[second + 1]) != _times(done[second])]
    assert list(moments.found(run, 0).seconds) == seen == [200, 300, 600]


def _times(done: Mapping[str, Done]) -> dict[str, int]:
    return {step: mark.at_s for step, mark in done.items()}


def test_the_actions_counted_with_a_mark_are_moved_with_it_and_those_before_it_are_not() -> None:
    told: list[tuple[Event, int]] = [
        (ActionsDone("a/1", 1, 2), 100),
        (ActionsDone("a/1", 3, 4), 300),
        (StepMarked("a/1"), 300),
        (MarkCorrected("a/1", 300, 400, (), (), "misheard"), 300),
        (MarkCorrected("a/1", 400, 400, (), (("volts", 3.0),), "misread"), 400),
    ]
    run = live([logged(seq, at_s, event, 500) for seq, (event, at_s) in enumerate(told, start=1)])
    assert list(RunMoments().found(run, 0).seconds) == [100, 400]
