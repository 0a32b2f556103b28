"""What a shift is told of the last hour: decisions and notes, whoever entered them late, and nothing older."""

import pytest

from app.core.events import (
    Event,
    GoGiven,
    NoGoGiven,
    NoteAdded,
    RunEnded,
    RunStarted,
    StartRecorded,
    StepMarked,
    StepNotNeeded,
    StepReopened,
    TakesRevised,
    TaskPutBack,
    TasksPutOff,
    TasksReordered,
    WorkGivenBack,
    WorkTaken,
)
from app.core.events_progress import (
    ActionsDone,
    CompletionCalled,
    MarkCorrected,
    StepConfirmed,
    ValuesAccepted,
    WarningAcknowledged,
)
from app.core.events_watch import (
    EntryStruck,
    FlagCleared,
    FlagRaised,
    PollAnswered,
    PollCalled,
    PollClosed,
    ReadingTaken,
    RoundAnswered,
    ShiftHandedOver,
    ToolMoved,
)
from app.core.fold import fold
from app.core.handover import LAST_S, is_decision, is_note, last_decisions, last_notes, standing
from tests.core.running import logged

DECISIONS: tuple[Event, ...] = (
    StepMarked("a/1", (), "the lead says so"),
    StepReopened("a/1", "wrong valve"),
    StepNotNeeded("a/1", "cut"),
    NoGoGiven("a/1", "EV1", "wind"),
    GoGiven("a/1", "EV1", "calm"),
    TasksPutOff(("a",), "late"),
    TaskPutBack("a", "time"),
    WorkTaken("a", ()),
    WorkGivenBack("a"),
    TakesRevised("a/1", 60, "slow"),
    TasksReordered("EV1", ("a", "b"), "light"),
    ValuesAccepted("a/1", "it holds"),
    MarkCorrected("a/1", 1, 2, (), (), "misheard"),
    PollAnswered("poll-1", "EV1", False, "wind"),
    PollAnswered("poll-1", "EV1", True, "calm"),
    PollClosed("poll-1", "all are go"),
    FlagCleared(3, "taped"),
    EntryStruck(3, "wrong person"),
    ToolMoved("camera", "lost", "EV2"),
    ToolMoved("camera", "left outside", reason="drifted"),
    RunEnded("in"),
)
NONE: tuple[Event, ...] = (
    RunStarted("r", "live", "z"),
    StepMarked("a/1"),
    StepReopened("a/1", "undone", undone=True),
    StartRecorded("a/1"),
    GoGiven("a/1", "EV1"),
    WarningAcknowledged("a/1", "EV1"),
    ActionsDone("a/1", 1, 1),
    CompletionCalled("a/1"),
    StepConfirmed("a/1", "EV2"),
    PollCalled("poll-1", "Go?", ("EV1",)),
    PollAnswered("poll-1", "EV1", True),
    RoundAnswered("r", "EV1", False, "cut"),
    ReadingTaken("battery", "EV1", 80),
    ToolMoved("camera", "taken", "EV2"),
    FlagRaised("smoke"),
    NoteAdded("well"),
    ShiftHandedOver("Mats", ""),
)


@pytest.mark.parametrize("event", DECISIONS, ids=lambda event: type(event).__name__)
def test_what_somebody_decided_is_a_decision(event: Event) -> None:
    assert is_decision(event)


@pytest.mark.parametrize("event", NONE, ids=lambda event: type(event).__name__)
def test_what_merely_happened_is_none(event: Event) -> None:
    assert not is_decision(event)


def test_notes_are_what_was_written_down_and_the_word_of_a_shift() -> None:
    assert {type(event) for event in (*DECISIONS, *NONE) if is_note(event)} == {NoteAdded, ShiftHandedOver}


def test_the_last_hour_begins_after_its_first_second_and_ends_with_this_one() -> None:
    log = [logged(seq, at_s, NoteAdded(f"at {at_s}")) for seq, at_s in enumerate((100, 101, 3700, 3701), start=1)]
    assert [each.at_s for each in last_notes(log, 100 + LAST_S)] == [101, 3700]
    assert [each.at_s for each in last_notes(log, 100)] == [100]
    assert last_decisions(log, 3700) == ()


def test_a_decision_heard_late_stands_at_the_time_it_was_made() -> None:
    log = [logged(1, 500, NoGoGiven("a/1", "EV1", "wind")), logged(2, 400, ValuesAccepted("a/1", "fine"), 900)]
    assert [each.seq for each in last_decisions(log, 1000)] == [2, 1]
    assert [each.seq for each in last_decisions(log, 400 + LAST_S)] == [1]


def test_a_correction_was_decided_when_it_was_entered_however_old_the_mark_is() -> None:
    log = [logged(1, 60, MarkCorrected("a/1", 50, 60, (), (), "misheard"), logged_s=9000)]
    assert [each.seq for each in last_decisions(log, 9000)] == [1]
    assert last_decisions(log, 8999) == ()


STANDS: tuple[tuple[tuple[Event, ...], list[int]], ...] = (
    ((CompletionCalled("a/1"), ValuesAccepted("a/1", "it holds"), StepMarked("a/1")), [2]),
    ((CompletionCalled("a/1"), ValuesAccepted("a/1", "it holds"), CompletionCalled("a/1")), []),
    ((ValuesAccepted("a/1", "it holds"), StepMarked("a/1"), StepReopened("a/1", "x"), StepMarked("a/1")), []),
    ((StepMarked("a/1", (), "ordered"),), [1]),
    ((StepMarked("a/1", (), "ordered"), StepReopened("a/1", "x"), StepMarked("a/1")), []),
    ((StepNotNeeded("a/1", "cut"), StepNotNeeded("b/1", "cut"), StepReopened("a/1", "needed")), [2]),
    ((TasksPutOff(("a", "b"), "rain"), TaskPutBack("a", "sun")), [1]),
    ((TasksPutOff(("a",), "rain"), TaskPutBack("a", "sun")), []),
    ((TakesRevised("a/1", 60, "slow"), TakesRevised("a/1", 90, "slower")), [2]),
    ((TakesRevised("a/1", 60, "slow"), StepMarked("a/1")), []),
    ((ToolMoved("camera", "lost", "EV2"),), [1]),
    ((ToolMoved("camera", "lost", "EV2"), ToolMoved("camera", "found", "EV2")), []),
    ((NoGoGiven("a/1", "EV1", "wind"), PollClosed("poll-1", "x"), StepMarked("b/1")), []),
)


@pytest.mark.parametrize(("events", "expected"), STANDS)
def test_an_older_decision_is_told_as_long_as_the_run_carries_it(
    events: tuple[Event, ...], expected: list[int]
) -> None:
    log = [logged(seq, 10, event) for seq, event in enumerate(events, start=1)]
    assert [each.seq for each in standing(log, fold(log), 10 + LAST_S)] == expected
    assert standing(log, fold(log), 9 + LAST_S) == ()


def test_no_decision_is_told_twice() -> None:
    log = [logged(1, 10, TasksPutOff(("a",), "rain")), logged(2, 20, TasksPutOff(("b",), "rain"))]
    for until_s in (9, 10, 20, 3609, 3610, 3620):
        older, newer = standing(log, fold(log, until_s=until_s), until_s), last_decisions(log, until_s)
        assert sorted(each.at_s for each in (*older, *newer)) == [at_s for at_s in (10, 20) if at_s <= until_s]
