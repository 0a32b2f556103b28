"""What may be done now: `decide(situation, command, at) -> events`, or a refusal that says why. It stores nothing."""

from typing import assert_never

from app.core import marking
from app.core.choices import goes_with, offer
from app.core.commands import (
    AddNote,
    Command,
    EndRun,
    GiveBackWork,
    GiveGo,
    GiveNoGo,
    MarkStep,
    PutBack,
    PutOff,
    RecordStart,
    Refusal,
    ReopenStep,
    SetNotNeeded,
    TakeWork,
    UndoMark,
    joined,
    said,
)
from app.core.events import (
    Event,
    NoteAdded,
    RunEnded,
    TaskPutBack,
    TasksPutOff,
    WorkGivenBack,
    WorkTaken,
)
from app.core.procedure import Designator, Procedure, StepId, TaskId
from app.core.situation import Situation
from app.core.times import clock

HEARD = (MarkStep, RecordStart, AddNote, GiveGo, GiveNoGo, SetNotNeeded)
"""What is called on the loop and may be heard late. All else is an order, and is given at the moment it is entered."""


def decide(situation: Situation, command: Command, at_s: int) -> tuple[Event, ...]:
    """The events that carry out `command` at elapsed second `at_s`, given the situation now.

    Raises:
        Refusal: it may not be done; nothing happened.
    """
    if situation.state.ended_s is not None:
        raise Refusal("ended", f"The run ended at {clock(situation.state.ended_s)}; nothing can be added to it.")
    if at_s > situation.at_s:
        raise Refusal("future", f"{clock(at_s)} has not come yet: it is {clock(situation.at_s)} now.")
    if at_s < 0:
        raise Refusal("too-early", "That is before the run began.")
    if at_s < situation.at_s and not isinstance(command, HEARD):
        raise Refusal("not-late", "Only what was called can be entered late; this order is given now.")
    match command:
        case MarkStep():
            return marking.mark(situation, command, at_s)
        case UndoMark(step):
            return marking.undo(situation, step)
        case ReopenStep() | RecordStart() | SetNotNeeded():
            return marking.step_order(situation, command, at_s)
        case GiveGo() | GiveNoGo():
            return marking.answer(situation, command, at_s)
        case PutOff() | PutBack() | TakeWork() | GiveBackWork():
            return _task_order(situation, command)
        case AddNote(text, step, person):
            _known(situation, step, person)
            return (NoteAdded(said(text, "Write the note first."), step, person),)
        case EndRun(reason):
            return (RunEnded(said(reason, "Say why or how the run ends.")),)
        case _:
            assert_never(command)


def _known(situation: Situation, step: StepId | None, person: Designator | None) -> None:
    if step is not None:
        marking.find(situation, step)
    if person is not None and person not in situation.network.crew:
        raise Refusal("unknown", f"Nobody of this run is called {person}.")


def _task_order(situation: Situation, command: PutOff | PutBack | TakeWork | GiveBackWork) -> tuple[Event, ...]:
    try:
        situation.procedure.task(command.task)
    except KeyError:
        raise Refusal("unknown", f"This procedure has no task {command.task}.") from None
    match command:
        case PutOff(task, reason):
            return _put_off(situation, task, reason)
        case PutBack(task, reason):
            if task not in situation.state.put_off:
                raise Refusal("not-put-off", f"{_task(situation.procedure, task)} was not put off.")
            return _put_back(situation, task, reason)
        case TakeWork(task):
            return _take(situation, task)
        case GiveBackWork(task):
            return _give_back(situation, task)
        case _:
            assert_never(command)


def _task(procedure: Procedure, task: TaskId) -> str:
    return f"“{procedure.task(task).title}”"


def _put_off(situation: Situation, task: TaskId, reason: str) -> tuple[Event, ...]:
    procedure, state = situation.procedure, situation.state
    name = _task(procedure, task)
    if not procedure.task(task).may_put_off:
        raise Refusal("must-be-done", f"{name} may not be put off: the procedure does not allow it.")
    if task in state.put_off:
        raise Refusal("put-off", f"{name} was put off already.")
    along, bars = goes_with(procedure, task)
    if bars:
        raise Refusal("must-be-done", f"{name} can't be put off: {joined(bars)} must be done and waits for it.")
    begun = [each for each in along if state.begun(each)]
    if begun:
        raise Refusal("begun", f"{name} can't be put off: {joined(tuple(begun))} was begun.")
    new = tuple(each for each in along if each not in state.put_off)
    return (TasksPutOff(new, said(reason, f"Say why {name} is put off.")),)


def _put_back(situation: Situation, task: TaskId, reason: str) -> tuple[Event, ...]:
    procedure, put_off = situation.procedure, situation.state.put_off
    before = dict.fromkeys(link.task for step in procedure.task(task).steps for link in step.after)
    bars = tuple(_task(procedure, each) for each in before if each in put_off and each != task)
    if bars:
        raise Refusal("put-off", f"{_task(procedure, task)} waits for {joined(bars)}; put that back first.")
    return (TaskPutBack(task, said(reason, "Say why it is put back.")),)


def _take(situation: Situation, task: TaskId) -> tuple[Event, ...]:
    wanted = situation.procedure.task(task)
    name = _task(situation.procedure, task)
    if task in situation.state.taken:
        raise Refusal("taken", f"{name} was taken already.")
    if not wanted.get_ahead and task not in situation.state.put_off:
        raise Refusal("in-run", f"{name} is in the run already.")
    found = offer(situation, wanted)
    if found.reason is not None:
        raise Refusal("not-eligible", f"{name}: not now, {found.reason}.")
    return (WorkTaken(task, found.places),)


def _give_back(situation: Situation, task: TaskId) -> tuple[Event, ...]:
    name = _task(situation.procedure, task)
    if task not in situation.state.taken:
        raise Refusal("not-taken", f"{name} was not taken.")
    if situation.state.begun(task):
        raise Refusal("begun", f"{name} was begun; it can't be given back.")
    return (WorkGivenBack(task),)
