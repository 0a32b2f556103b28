"""A state from bare marks (step, elapsed second): for a run that was kept on paper, or in a spreadsheet."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from app.core.events import Event, Logged, StepMarked, WorkTaken
from app.core.fold import fold
from app.core.network import Places
from app.core.procedure import StepId, TaskId
from app.core.situation import Prepared, Situation
from app.core.state import EMPTY, State
from app.core.times import clock

_NO_DAY = datetime(1970, 1, 1, tzinfo=UTC)
"""Bare marks have no date; nothing that is computed looks at it."""


@dataclass(frozen=True, slots=True)
class Marked:
    """`state` is what the marks up to the asked moment lead to; `remarks` say in words what is odd about them."""

    state: State
    remarks: tuple[str, ...]


def state_of_marks(prepared: Prepared, marks: Sequence[tuple[StepId, int]], at_s: int) -> Marked:
    """The state at `at_s`: later marks are left out, and a step marked twice keeps the mark that stands last.

    Marks are facts and are taken as they are: one against an open prerequisite is remarked on, not refused. A mark
    of a get-ahead item says that the item was taken: it is put at the head of its people's open work.

    Raises:
        KeyError: a mark names a step that the procedure does not have.
    """
    state, remarks = EMPTY, list[str]()
    later = sum(1 for _, marked_s in marks if marked_s > at_s)
    if later:
        remarks.append(f"{later} mark{'s' if later > 1 else ''} after {clock(at_s)} left out")
    for step_id, marked_s in marks:
        if marked_s > at_s:
            continue
        task = prepared.procedure.task(prepared.procedure.step(step_id).task)
        if task.get_ahead and task.id not in state.taken:
            state = _apply(state, WorkTaken(task.id, _at_head(prepared, state, marked_s, task.people)), marked_s)
        state = _apply(state, StepMarked(step_id), marked_s)
    return Marked(state, (*remarks, *_odd(prepared, state, at_s)))


def _apply(state: State, event: Event, at_s: int) -> State:
    logged = Logged(state.seq + 1, at_s, at_s, _NO_DAY, "marks", "file", "", event)
    return fold([logged], state)


def _at_head(prepared: Prepared, state: State, at_s: int, people: tuple[str, ...]) -> Places:
    situation = Situation(prepared, state, at_s)
    return tuple((person, _first_open(situation, person)) for person in people)


def _first_open(situation: Situation, person: str) -> TaskId | None:
    step = situation.person(person).next
    return None if step is None else situation.step(step).task


def _odd(prepared: Prepared, state: State, at_s: int) -> list[str]:
    situation = Situation(prepared, state, at_s)
    found = []
    for number, finish_s in sorted(situation.facts.done.items()):
        for earlier, wait_s in situation.prerequisites(number):
            done_s = situation.facts.done.get(earlier)
            if done_s is None:
                found.append(
                    f"{situation.id(number)} is marked, but {situation.id(earlier)}, which it waits for, is open"
                )
            elif finish_s < done_s + wait_s:
                until = clock(done_s + wait_s)
                found.append(f"{situation.id(number)} is marked before {situation.id(earlier)} allows it, {until}")
    return found
