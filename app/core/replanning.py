"""Orders that change what is still to come: durations, the order of work, added steps. It returns events or refuses."""

from collections.abc import Iterator
from itertools import count
from typing import assert_never

from app.core.arranging import after_close_out, reordered
from app.core.choices import gaps
from app.core.commands import AddStep, Refusal, ReorderTasks, ReviseTakes, SwapTasks, said
from app.core.events import Event, StepAdded, TakesRevised, TasksReordered
from app.core.fold import added_task
from app.core.marking import open_step
from app.core.network import Cycle, Network, Places, TaskLists, arrange, with_task
from app.core.procedure import Designator, Procedure, TaskId
from app.core.reasons import named
from app.core.situation import Situation
from app.core.times import duration
from app.core.words import steps_waiting, task_words

LONGEST_S = 99 * 3600
"""No step takes longer than 99 hours: past that, a number was mistyped. Our own bound, no source."""

LONGEST_DO = 300
"""An added step is one line that can be read aloud. Our own bound, no source."""


def replan(situation: Situation, command: ReviseTakes | ReorderTasks | SwapTasks | AddStep) -> tuple[Event, ...]:
    """Raises Refusal: the order may not be carried out."""
    match command:
        case ReviseTakes():
            return _revise(situation, command)
        case ReorderTasks():
            return _reorder(situation, command)
        case SwapTasks():
            return _swap(situation, command)
        case AddStep():
            return _add(situation, command)
        case _:
            assert_never(command)


def _revise(situation: Situation, command: ReviseTakes) -> tuple[Event, ...]:
    number = open_step(situation, command.step)
    _possible(command.takes_s, least_s=0)
    if command.takes_s == situation.network.takes_s[number]:
        raise Refusal("unchanged", f"{named(situation, number)} is counted on to take {duration(command.takes_s)} now.")
    why = said(command.reason, f"Say why {named(situation, number)} takes another time.")
    return (TakesRevised(command.step, command.takes_s, why),)


def _possible(takes_s: int, least_s: int) -> None:
    if not least_s <= takes_s <= LONGEST_S:
        least = f"at least {duration(least_s)}" if least_s else "no time below nothing"
        raise Refusal("bad-time", f"A step takes {least} and at most 99 hours.")


# The order of one person's tasks


def _swap(situation: Situation, command: SwapTasks) -> tuple[Event, ...]:
    now = situation.lists.get(command.person, ())
    both = (command.first, command.second)
    standing = tuple(task for task in now if task in both)
    tasks = standing[::-1] if len(standing) == 2 else both
    return _reorder(situation, ReorderTasks(command.person, tasks, command.reason))


def _reorder(situation: Situation, command: ReorderTasks) -> tuple[Event, ...]:
    person, tasks = command.person, command.tasks
    _of_crew(situation, person)
    for task in tasks:
        _movable(situation, person, task)
    if len(set(tasks)) < len(tasks):
        twice = next(task for task in tasks if tasks.count(task) > 1)
        raise Refusal("twice", f"{task_words(situation.procedure, twice)} is named twice; name each task once.")
    if len(tasks) < 2:
        raise Refusal("incomplete", f"Name at least two tasks of {person} to put in a new order.")
    if tasks == tuple(task for task in situation.lists[person] if task in tasks):
        raise Refusal("unchanged", f"{person} has these tasks in this order already.")
    lists = reordered(situation.lists, person, tasks)
    _without_circle(situation, situation.network, situation.procedure, lists)
    return (TasksReordered(person, tasks, said(command.reason, f"Say why {person} works in another order.")),)


def _of_crew(situation: Situation, person: Designator) -> None:
    if person not in situation.network.crew:
        raise Refusal("unknown", f"Nobody of this run is called {person}.")


def _movable(situation: Situation, person: Designator, task: TaskId) -> None:
    """Refuses a task that is not this person's, or is at a place which no order changes."""
    if task not in situation.lists[person]:
        raise Refusal("unknown", f"{person} has no task {task} in their list.")
    name = task_words(situation.procedure, task)
    if task in situation.state.put_off:
        raise Refusal("put-off", f"{name} was put off; put it back first.")
    if situation.begun(task):
        raise Refusal("begun", f"{name} was begun; only work that is not begun can be put in a new order.")
    close_out = situation.procedure.limits.close_out
    if task == close_out:
        raise Refusal("close-out", f"{name} is close-out; it stays where it is.")
    if task in after_close_out(situation.lists, person, close_out):
        raise Refusal("close-out", f"{name} stands after close-out; it stays where it is.")


def movable(situation: Situation, person: Designator) -> tuple[TaskId, ...]:
    """This person's tasks that can be put in another order, in their present one: those with an open step of theirs."""
    network = situation.network
    own = network.lists[network.crew.index(person)]
    with_open = {network.steps[number].task for number in own if situation.is_open(number)}
    one_list = situation.lists[person]
    fixed = after_close_out(situation.lists, person, situation.procedure.limits.close_out)
    return tuple(task for task in one_list if task in with_open and task not in fixed and not situation.begun(task))


def _without_circle(situation: Situation, network: Network, procedure: Procedure, lists: TaskLists) -> None:
    """Refuses lists by which steps would wait for one another, and names these."""
    try:
        arrange(network, lists, situation.state.taken, situation.facts.done, situation.facts.removed)
    except Cycle as cycle:
        raise Refusal("circle", f"That can't be: {steps_waiting(procedure, cycle.steps)}.") from cycle


# A step that no file knows


def _add(situation: Situation, command: AddStep) -> tuple[Event, ...]:
    do = _line(command.do)
    if not command.who:
        raise Refusal("incomplete", "Say who does the added step.")
    for person in command.who:
        _of_crew(situation, person)
    if len(set(command.who)) < len(command.who):
        raise Refusal("twice", "Somebody is named twice; name each person once.")
    _possible(command.takes_s, least_s=1)
    for task, number in command.after:
        _known_target(situation, task, number)
    after = tuple(dict.fromkeys(command.after))
    places = tuple(_places(situation, command))
    why = said(command.reason, "Say why the step is added.")
    event = StepAdded(_new_id(situation), do, command.who, command.takes_s, after, places, why)
    _fits(situation, event)
    return (event,)


def _line(text: str) -> str:
    do = " ".join(text.split())
    if not do:
        raise Refusal("incomplete", "Write what is to be done.")
    if len(do) > LONGEST_DO:
        raise Refusal("too-long", f"That is longer than {LONGEST_DO} characters; say it shorter, or add two steps.")
    return do


def _known_target(situation: Situation, task: TaskId, number: int | None) -> None:
    steps = [step for step in situation.network.steps if step.task == task and number in (None, step.number)]
    if not steps:
        target = task if number is None else f"{task}/{number}"
        raise Refusal("unknown", f"This run has no {'task' if number is None else 'step'} {target} to wait for.")
    if not situation.is_in(situation.network.index[steps[0].id]):
        name = task_words(situation.procedure, task)
        raise Refusal("not-in-run", f"{name} is a get-ahead item that was not taken; nothing can wait for it.")


def _places(situation: Situation, command: AddStep) -> Iterator[tuple[Designator, TaskId | None]]:
    """Before the named task for each person who has it, else right after what each has begun."""
    first = command.who[0]
    if command.before is not None and command.before not in gaps(situation, first):
        raise Refusal("no-place", f"{first} has no open task {command.before} that a step could be put before.")
    for person in command.who:
        open_places = gaps(situation, person)
        if not open_places:
            raise Refusal("no-place", f"{person} has begun close-out; no step can be added to their list.")
        yield person, command.before if command.before in open_places and command.before else open_places[0]


def _new_id(situation: Situation) -> TaskId:
    known = {task.id for task in situation.procedure.tasks}
    return next(name for number in count(1) if (name := f"added-{number}") not in known)


def _fits(situation: Situation, event: StepAdded) -> None:
    task = added_task(event)
    amended = situation.prepared.amended((*(each.task for each in situation.state.added.values()), task))
    places: Places = event.places
    lists = with_task(situation.lists, task.id, places)
    _without_circle(situation, amended.network, amended.procedure, lists)
