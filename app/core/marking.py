"""Orders about one step: marks, undoing, starts, answers at a hold. Each function returns events or refuses."""

import math
from collections.abc import Iterator
from typing import assert_never

from app.core.commands import (
    GiveGo,
    GiveNoGo,
    MarkStep,
    RecordStart,
    Refusal,
    ReopenStep,
    SetNotNeeded,
    joined,
    said,
)
from app.core.events import Event, GoGiven, NoGoGiven, StartRecorded, StepMarked, StepNotNeeded, StepReopened
from app.core.procedure import Step, StepId
from app.core.reasons import named
from app.core.situation import Situation, StepState
from app.core.times import clock


def find(situation: Situation, step: StepId) -> int:
    number = situation.network.index.get(step)
    if number is None:
        raise Refusal("unknown", f"This procedure has no step {step}.")
    return number


def open_step(situation: Situation, step: StepId) -> int:
    """The number of a step that can be marked. Raises Refusal when it is done, or not in the run."""
    number = find(situation, step)
    done = situation.state.done.get(step)
    if done is not None:
        raise Refusal(
            "already-done", f"{_title(situation, number)} is already done, at {clock(done.at_s)} by {done.by}."
        )
    if not situation.is_in(number):
        raise Refusal(
            "not-in-run", f"{_title(situation, number)} is a get-ahead item that was not taken; take it first."
        )
    if situation.state_of(number) is StepState.PUT_OFF:
        raise Refusal("put-off", f"{_title(situation, number)} was put off; put it back first.")
    if situation.state_of(number) is StepState.NOT_NEEDED:
        raise Refusal("not-needed", f"{_title(situation, number)} was set not needed; reopen it first.")
    return number


def _title(situation: Situation, number: int) -> str:
    step = situation.network.steps[number]
    return f"“{step.do}” ({step.id})"


def mark(situation: Situation, command: MarkStep, at_s: int) -> tuple[Event, ...]:
    number = open_step(situation, command.step)
    step = situation.network.steps[number]
    missing = situation.missing_go(step)
    if missing:
        raise Refusal("hold", f"{_title(situation, number)} is a hold: no go yet from {joined(missing)}.")
    _not_before_its_goes(situation, step, at_s)
    _not_before_its_start(situation, number, at_s)
    reason = command.ordered_because
    if reason is not None:
        reason = said(reason, "The lead's order needs a reason.")
    bars = list(_bars(situation, number, at_s))
    if bars:
        _not_past_a_hold(situation, number)
    if bars and reason is None:
        raise Refusal("open-prerequisite", f"{_title(situation, number)} must wait: {'; '.join(bars)}.", may_order=True)
    return (StepMarked(step.id, _values(step, command.values), reason if bars else None),)


def _bars(situation: Situation, number: int, at_s: int) -> Iterator[str]:
    """Each hard prerequisite that stands against this step being complete, or begun, at `at_s`, in words."""
    for earlier, wait_s in situation.prerequisites(number):
        finish = situation.facts.done.get(earlier)
        if finish is None:
            yield f"{named(situation, earlier)} is open"
        elif at_s < finish:
            yield f"{named(situation, earlier)} was done only at {clock(finish)}"
        elif at_s < finish + wait_s:
            yield f"the wait after {named(situation, earlier)} runs until {clock(finish + wait_s)}"


def _not_before_its_goes(situation: Situation, step: Step, at_s: int) -> None:
    for person in step.go:
        given = situation.state.answer(step.id, person)
        if given is not None and at_s < given.at_s:
            sentence = f"{person} was go only at {clock(given.at_s)}; the hold can't be complete at {clock(at_s)}."
            raise Refusal("hold", sentence)


def _not_past_a_hold(situation: Situation, number: int) -> None:
    """No order passes a hold that is not go, however far before the step it stands.

    Raises:
        Refusal: one of the open steps that this one waits for, at any distance, is such a hold.
    """
    reached, waiting = {number}, [number]
    for each in waiting:
        new = [earlier for earlier in situation.open_before(each) if earlier not in reached]
        reached.update(new)
        waiting += new
    for earlier in sorted(reached - {number}):
        missing = situation.missing_go(situation.network.steps[earlier])
        if missing:
            sentence = (
                f"{_title(situation, number)} must wait: {named(situation, earlier)} is a hold, and no order passes it"
            )
            raise Refusal("hold", f"{sentence}; no go yet from {joined(missing)}.")


def _not_before_its_start(situation: Situation, number: int, at_s: int) -> None:
    started = situation.facts.started.get(number, 0)
    taken = situation.facts.floor_s.get(number, 0)
    if at_s < started:
        raise Refusal("before-start", f"Its start was recorded at {clock(started)}; it can't be done at {clock(at_s)}.")
    if at_s < taken:
        raise Refusal("before-start", f"It came into the run at {clock(taken)}; it can't be done at {clock(at_s)}.")


def _values(step: Step, given: tuple[tuple[str, float], ...]) -> tuple[tuple[str, float], ...]:
    names = {value.name for value in step.record}
    for name, reading in given:
        if name not in names:
            raise Refusal("unknown-value", f"Step {step.id} records no “{name}”.")
        if not math.isfinite(reading):
            raise Refusal("not-a-number", f"“{name}” is not a number.")
    return given


def undo(situation: Situation, step: StepId) -> tuple[Event, ...]:
    number = find(situation, step)
    done = situation.state.done.get(step)
    if done is None:
        raise Refusal("not-done", f"{_title(situation, number)} is not done, so there is nothing to undo.")
    if number not in undoable(situation):
        raise Refusal(
            "not-last", f"{_title(situation, number)} is not the last mark of its people; reopen it with a reason."
        )
    return (StepReopened(step, "undone", undone=True),)


def undoable(situation: Situation) -> frozenset[int]:
    """The done steps that are the last one marked (the highest seq) of each of their people."""
    marks = {situation.network.index[step]: mark.seq for step, mark in situation.state.done.items()}
    last: dict[int, int] = {}
    for number, seq in marks.items():
        for person in _people_or_nobody(situation, number):
            last[person] = max(seq, last.get(person, 0))
    return frozenset(
        number
        for number, seq in marks.items()
        if all(last[person] == seq for person in _people_or_nobody(situation, number))
    )


def _people_or_nobody(situation: Situation, number: int) -> tuple[int, ...]:
    return situation.network.people[number] or (-1,)


def step_order(situation: Situation, command: ReopenStep | RecordStart | SetNotNeeded, at_s: int) -> tuple[Event, ...]:
    match command:
        case ReopenStep(step, reason):
            return _reopen(situation, step, reason)
        case RecordStart(step):
            return _start(situation, step, at_s)
        case SetNotNeeded(step, reason):
            number = open_step(situation, step)
            missing = situation.missing_go(situation.network.steps[number])
            if missing:
                sentence = (
                    f"{_title(situation, number)} is a hold and can't be left out: no go yet from {joined(missing)}."
                )
                raise Refusal("hold", sentence)
            why = said(reason, f"Say why {_title(situation, number)} is not needed.")
            return (StepNotNeeded(step, why),)
        case _:
            assert_never(command)


def _reopen(situation: Situation, step: StepId, reason: str) -> tuple[Event, ...]:
    number = find(situation, step)
    if step not in situation.state.done and step not in situation.state.not_needed:
        raise Refusal("not-done", f"{_title(situation, number)} is open already.")
    return (StepReopened(step, said(reason, f"Say why {_title(situation, number)} is reopened.")),)


def _start(situation: Situation, step: StepId, at_s: int) -> tuple[Event, ...]:
    number = open_step(situation, step)
    bars = list(_bars(situation, number, at_s))
    if bars:
        raise Refusal("open-prerequisite", f"{_title(situation, number)} can't start: {'; '.join(bars)}.")
    taken = situation.facts.floor_s.get(number, 0)
    if at_s < taken:
        raise Refusal("before-start", f"It came into the run at {clock(taken)}; it can't start at {clock(at_s)}.")
    return (StartRecorded(step),)


def answer(situation: Situation, command: GiveGo | GiveNoGo, at_s: int) -> tuple[Event, ...]:
    number = open_step(situation, command.step)
    step = situation.network.steps[number]
    if command.person not in step.go:
        raise Refusal("not-asked", f"{command.person} is not asked at {_title(situation, number)}.")
    bars = list(_bars(situation, number, at_s))
    if bars:
        raise Refusal("open-prerequisite", f"The hold was not reached at {clock(at_s)}: {bars[0]}.")
    if isinstance(command, GiveGo):
        return (GoGiven(step.id, command.person),)
    return (NoGoGiven(step.id, command.person, said(command.reason, "A no-go needs its reason.")),)
