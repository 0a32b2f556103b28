"""State from events: what each kind changes, and what a past moment looks like."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.events import (
    ClockStepped,
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
    TaskPutBack,
    TasksPutOff,
    WorkGivenBack,
    WorkTaken,
)
from app.core.events_progress import (
    ActionsDone,
    ActionsTakenBack,
    CompletionCalled,
    MarkCorrected,
    StepConfirmed,
    ValuesAccepted,
    WarningAcknowledged,
)
from app.core.fold import fold
from app.core.state import EMPTY, Done, State, Taken
from app.core.watch import NOTES_KEPT, Answer
from tests.core.running import logged


def _after(*events: Event) -> State:
    return fold(logged(seq, 10 * seq, event) for seq, event in enumerate(events, start=1))


def test_without_events_nothing_is_known() -> None:
    assert fold([]) == EMPTY


def test_zero_names_the_revision() -> None:
    state = _after(RunStarted("abc", "live", "2031-05-04T07:00:00.000Z"))
    assert (state.seq, state.revision, state.kind, state.zero_utc) == (1, "abc", "live", "2031-05-04T07:00:00.000Z")


def test_a_mark_is_kept_with_its_time_its_values_and_who_gave_it() -> None:
    state = _after(StepMarked("a/1", (("gap", 2.5),), "no time"))
    assert state.done == {"a/1": Done(10, 1, "desk", (("gap", 2.5),), "no time")}


def test_a_reopened_step_is_as_if_never_marked_and_its_hold_asks_again() -> None:
    state = _after(GoGiven("a/1", "EV1"), StepMarked("a/1"), StepReopened("a/1", "slip", undone=True))
    assert (state.done, state.answers, state.seq) == ({}, {}, 3)


def test_a_step_set_not_needed_can_be_reopened_and_a_mark_outweighs_it() -> None:
    assert _after(StepNotNeeded("a/1", "cut")).not_needed == {"a/1": "cut"}
    assert _after(StepNotNeeded("a/1", "cut"), StepReopened("a/1", "needed")).not_needed == {}
    state = _after(StepNotNeeded("a/1", "cut"), StepMarked("a/1"))
    assert (state.not_needed, list(state.done)) == ({}, ["a/1"])


def test_the_last_recorded_start_stands() -> None:
    assert _after(StartRecorded("a/1"), StartRecorded("a/1")).started == {"a/1": 20}


def test_a_no_go_stands_until_the_same_person_gives_a_go() -> None:
    no_go = NoGoGiven("a/1", "EV1", "wind")
    assert _after(GoGiven("a/1", "EV1"), no_go).answer("a/1", "EV1") == Answer(False, 20, "wind", "desk")
    state = _after(no_go, GoGiven("a/1", "EV2"), GoGiven("a/1", "EV1"))
    assert state.answer("a/1", "EV1") == Answer(True, 30, by="desk")
    assert state.answer("a/1", "EV3") is None


def test_what_is_put_off_can_be_put_back() -> None:
    assert _after(TasksPutOff(("a", "b"), "late")).put_off == {"a": "late", "b": "late"}
    assert _after(TasksPutOff(("a", "b"), "late"), TaskPutBack("a", "time won")).put_off == {"b": "late"}


def test_taken_work_has_its_place_and_goes_back_to_where_it_was() -> None:
    taken = WorkTaken("a", (("EV1", "b"),))
    assert _after(taken).taken == {"a": Taken((("EV1", "b"),), 10, seq=1)}
    assert _after(taken, WorkGivenBack("a")) == State(seq=2)
    off = TasksPutOff(("a",), "late")
    assert _after(off, taken).put_off == {}
    assert _after(off, taken, WorkGivenBack("a")).put_off == {"a": "late"}
    assert _after(taken, off).taken == {}


def test_work_put_before_other_taken_work_keeps_its_place_when_that_goes_back() -> None:
    first, second = WorkTaken("g", (("EV1", "close"),)), WorkTaken("h", (("EV1", "g"), ("EV2", "x")))
    state = _after(first, second, WorkGivenBack("g"))
    assert state.taken["h"].places == (("EV1", "close"), ("EV2", "x"))


def test_steps_of_the_wall_clock_add_up() -> None:
    assert _after(ClockStepped(3_600_000), ClockStepped(-1_000)).stepped_ms == 3_599_000


def test_a_note_on_the_run_changes_nothing_but_the_number_of_the_event() -> None:
    assert _after(NoteAdded("seen a spark")) == State(seq=1)


def test_a_note_stands_at_its_step_or_else_its_person_in_order_of_time() -> None:
    log = [
        logged(1, 50, NoteAdded("second", "a/1", "EV1")),
        logged(2, 30, NoteAdded("first", "a/1"), logged_s=60),
        logged(3, 70, NoteAdded("cold hands", person="EV1")),
    ]
    notes = fold(log).notes
    assert [note.text for note in notes["a/1"]] == ["first", "second"]
    assert [(note.at_s, note.seq, note.by, note.text) for note in notes["EV1"]] == [(70, 3, "desk", "cold hands")]
    assert "EV1" not in fold(log, until_s=69).notes


def test_of_many_notes_the_newest_are_kept_at_the_step() -> None:
    notes = _after(*(NoteAdded(f"note {number}", "a/1") for number in range(NOTES_KEPT + 5))).notes["a/1"]
    assert [note.text for note in notes] == [f"note {number}" for number in range(5, NOTES_KEPT + 5)]


def test_an_ended_run_says_when_and_why() -> None:
    state = _after(RunEnded("all in"))
    assert (state.ended_s, state.end_reason) == (10, "all in")


def test_a_past_moment_is_shown_as_it_was_not_as_it_was_known() -> None:
    log = [logged(1, 50, StepMarked("a/1")), logged(2, 30, StepMarked("b/1"), logged_s=80)]
    assert list(fold(log, until_s=29).done) == []
    assert list(fold(log, until_s=30).done) == ["b/1"]
    assert list(fold(log, until_s=50).done) == ["a/1", "b/1"]


_steps, _tasks = st.sampled_from(["a/1", "a/2", "b/1"]), st.sampled_from(["a", "b", "c"])
_people = st.sampled_from(["EV1", "EV2"])
_nothing: st.SearchStrategy[tuple[tuple[str, float], ...]] = st.just(())
_events: st.SearchStrategy[Event] = st.one_of(
    st.builds(StepMarked, _steps),
    st.builds(StepReopened, _steps, st.just("slip")),
    st.builds(StartRecorded, _steps),
    st.builds(GoGiven, _steps, _people),
    st.builds(NoGoGiven, _steps, _people, st.just("wind")),
    st.builds(StepNotNeeded, _steps, st.just("cut")),
    st.builds(TasksPutOff, st.tuples(_tasks), st.just("late")),
    st.builds(TaskPutBack, _tasks, st.just("time")),
    st.builds(WorkTaken, _tasks, st.tuples(st.tuples(_people, _tasks))),
    st.builds(WorkGivenBack, _tasks),
    st.builds(ClockStepped, st.integers(-5000, 5000)),
    st.builds(NoteAdded, st.text()),
    st.builds(RunEnded, st.just("over")),
    st.builds(WarningAcknowledged, _steps, _people),
    st.builds(ActionsDone, _steps, st.just(1), st.integers(1, 3)),
    st.builds(ActionsTakenBack, _steps, st.integers(0, 2)),
    st.builds(CompletionCalled, _steps),
    st.builds(ValuesAccepted, _steps, st.just("worn")),
    st.builds(StepConfirmed, _steps, _people),
    st.builds(
        MarkCorrected, _steps, st.integers(0, 100), st.integers(0, 100), st.just(()), st.just(()), st.just("late")
    ),
)


@given(events=st.lists(st.tuples(st.integers(0, 100), _events), max_size=30), data=st.data())
def test_folding_in_pieces_is_folding_in_one_go(events: list[tuple[int, Event]], data: st.DataObject) -> None:
    log = [logged(seq, at_s, event) for seq, (at_s, event) in enumerate(events, start=1)]
    cut = data.draw(st.integers(0, len(log)))
    head = fold(log[:cut])
    kept = (dict(head.done), dict(head.taken), {step: dict(each) for step, each in head.answers.items()})
    assert fold(log[cut:], head) == fold(log)
    assert (head.done, head.taken, head.answers) == kept  # A state once given out never changes.


@pytest.mark.parametrize("until_s", [0, 40, 100])
def test_until_a_second_is_the_fold_of_what_had_happened_by_then(until_s: int) -> None:
    log = [logged(seq, at_s, StepMarked(f"a/{seq}")) for seq, at_s in enumerate([0, 90, 40, 41, 100], start=1)]
    assert fold(log, until_s=until_s) == fold([each for each in log if each.at_s <= until_s])
