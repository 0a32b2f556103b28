"""Orders about whole tasks: putting off and back, taking and giving back. Each function returns events or refuses."""

from typing import assert_never

from app.core.best_set import best_set
from app.core.choices import goes_with, offer
from app.core.commands import (
    GiveBackWork,
    PutBack,
    PutBackSet,
    PutOff,
    PutOffSet,
    Refusal,
    TakeSet,
    TakeWork,
    joined,
    said,
)
from app.core.events import Event, TaskPutBack, TasksPutOff, WorkGivenBack, WorkTaken
from app.core.procedure import Procedure, TaskId
from app.core.situation import Situation

TaskOrder = PutOff | PutBack | TakeWork | GiveBackWork | PutOffSet | PutBackSet | TakeSet


def order(situation: Situation, command: TaskOrder) -> tuple[Event, ...]:
    """Raises Refusal: the order may not be carried out."""
    _known(situation.procedure, command)
    match command:
        case PutOff(task, reason):
            return _put_off(situation, (task,), reason)
        case PutOffSet(tasks, reason):
            return _put_off(situation, tasks, reason)
        case PutBack(task, reason):
            return _put_back(situation, (task,), reason)
        case PutBackSet(tasks, reason):
            return _put_back(situation, tasks, reason)
        case TakeWork(task):
            return _take(situation, task)
        case TakeSet(tasks):
            return _take_set(situation, tasks)
        case GiveBackWork(task):
            return _give_back(situation, task)
        case _:
            assert_never(command)


def _known(procedure: Procedure, command: TaskOrder) -> None:
    tasks = command.tasks if isinstance(command, PutOffSet | PutBackSet | TakeSet) else (command.task,)
    ids = {task.id for task in procedure.tasks}
    for task in tasks:
        if task not in ids:
            raise Refusal("unknown", f"This procedure has no task {task[:60]}.")
    if not tasks or len(set(tasks)) < len(tasks):
        raise Refusal("incomplete", "Name the tasks, each once.")


def _task(procedure: Procedure, task: TaskId) -> str:
    return f"“{procedure.task(task).title}”"


def _put_off(situation: Situation, tasks: tuple[TaskId, ...], reason: str) -> tuple[Event, ...]:
    """One event for all of them and all that depends on them, in file order."""
    along = {each for task in tasks for each in _goes_off(situation, task)}
    new = tuple(task.id for task in situation.procedure.tasks if task.id in along)
    names = joined(tuple(_task(situation.procedure, task) for task in tasks))
    return (TasksPutOff(new, said(reason, f"Say why {names} {'is' if len(tasks) == 1 else 'are'} put off.")),)


def _goes_off(situation: Situation, task: TaskId) -> tuple[TaskId, ...]:
    """The task and what depends on it, as far as it is not put off yet. Raises Refusal if it may not be put off."""
    procedure, state = situation.procedure, situation.state
    name = _task(procedure, task)
    if not procedure.task(task).may_put_off:
        raise Refusal("must-be-done", f"{name} may not be put off: the procedure does not allow it.")
    if task in state.put_off:
        raise Refusal("put-off", f"{name} was put off already.")
    along, bars = goes_with(procedure, task)
    if bars:
        raise Refusal("must-be-done", f"{name} can't be put off: {joined(bars)} must be done and waits for it.")
    begun = tuple(each for each in along if state.begun(each))
    if begun:
        raise Refusal("begun", f"{name} can't be put off: {joined(begun)} was begun.")
    return tuple(each for each in along if each not in state.put_off)


def _put_back(situation: Situation, tasks: tuple[TaskId, ...], reason: str) -> tuple[Event, ...]:
    procedure, put_off = situation.procedure, situation.state.put_off
    for task in tasks:
        if task not in put_off:
            raise Refusal("not-put-off", f"{_task(procedure, task)} was not put off.")
        before = dict.fromkeys(link.task for step in procedure.task(task).steps for link in step.after)
        bars = tuple(_task(procedure, each) for each in before if each in put_off and each not in tasks)
        if bars:
            raise Refusal("put-off", f"{_task(procedure, task)} waits for {joined(bars)}; put that back first.")
    why = said(reason, "Say why it is put back.")
    return tuple(TaskPutBack(task.id, why) for task in procedure.tasks if task.id in tasks)


def _take(situation: Situation, task: TaskId) -> tuple[Event, ...]:
    _optional(situation, task)
    found = offer(situation, situation.procedure.task(task))
    if found.reason is not None:
        raise Refusal("not-eligible", f"{_task(situation.procedure, task)}: not now, {found.reason}.")
    return (WorkTaken(task, found.places),)


def _optional(situation: Situation, task: TaskId) -> None:
    """Raises Refusal for work that is in the run already."""
    name = _task(situation.procedure, task)
    if task in situation.state.taken:
        raise Refusal("taken", f"{name} was taken already.")
    if not situation.procedure.task(task).get_ahead and task not in situation.state.put_off:
        raise Refusal("in-run", f"{name} is in the run already.")


def _take_set(situation: Situation, tasks: tuple[TaskId, ...]) -> tuple[Event, ...]:
    """Exactly these tasks, each at the place that serves all of them best."""
    for task in tasks:
        _optional(situation, task)
    found = best_set(situation, only=tasks)
    if found is None:
        raise Refusal("not-eligible", "Not now: these no longer fit together. Look at what is offered now.")
    return found.events


def _give_back(situation: Situation, task: TaskId) -> tuple[Event, ...]:
    name = _task(situation.procedure, task)
    if task not in situation.state.taken:
        raise Refusal("not-taken", f"{name} was not taken.")
    if situation.state.begun(task):
        raise Refusal("begun", f"{name} was begun; it can't be given back.")
    for added in situation.state.added.values():
        number = situation.network.index[added.task.steps[0].id]
        if situation.is_open(number) and any(link.task == task for link in added.task.after):
            raise Refusal("waited-for", f"{name} can't be given back: {added.task.title} waits for it.")
    return (WorkGivenBack(task),)
