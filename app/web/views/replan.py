"""Replanning on the Lead board: what can be reordered, added, or given another duration. It changes nothing."""

from dataclasses import dataclass

from app.core.choices import gaps
from app.core.procedure import Designator, TaskId
from app.core.replanning import movable
from app.core.situation import Situation
from app.core.times import duration
from app.web.views.desk import NewKey
from app.web.views.step_words import is_revised, takes_words

MOST_CHOICES = 100
"""A list to choose from holds at most so many steps, those that come first; more can't be looked through. Our own."""


@dataclass(frozen=True, slots=True)
class Numbered:
    """A task with its place in its person's list, counted from 1; the number does not change as work is begun."""

    task: TaskId
    title: str
    tag: str
    number: int


@dataclass(frozen=True, slots=True)
class OrderOf:
    """One person's unbegun tasks, and the title of the close-out task that stays last; `turn` counts new orders."""

    person: Designator
    place: int
    rows: tuple[Numbered, ...]
    last: str
    turn: int
    key: str


@dataclass(frozen=True, slots=True)
class Choice:
    value: str
    words: str


@dataclass(frozen=True, slots=True)
class Replan:
    """What the panel shows.

    Attributes:
        changed: what was added and revised so far, in words. dropped: new orders that can't be kept any more.
        orders: a form for each person with at least two tasks to put in another order.
        before, after, steps: what a new step may stand before or wait for, and the open steps; `more_steps` come later.
        added_turn, takes_turn: change when a step was added or a duration revised, so that the fields are empty again.
    """

    changed: tuple[str, ...]
    dropped: tuple[str, ...]
    orders: tuple[OrderOf, ...]
    crew: tuple[Designator, ...]
    before: tuple[Choice, ...]
    after: tuple[Choice, ...]
    steps: tuple[Choice, ...]
    more_steps: int
    added_turn: int
    takes_turn: str
    key_add: str
    key_takes: str


def replan(situation: Situation, new_key: NewKey) -> Replan:
    state, crew = situation.state, situation.network.crew
    still_open = [number for number in situation.network.order if situation.is_open(number)]
    still_open.sort(key=situation.projection.times)
    orders = [_order_of(situation, place, person, new_key) for place, person in enumerate(crew, start=1)]
    return Replan(
        changed=_changed(situation),
        dropped=situation.dropped,
        orders=tuple(each for each in orders if len(each.rows) > 1),
        crew=crew,
        before=_before(situation),
        after=_after(situation, still_open),
        steps=tuple(_step(situation, number) for number in still_open[:MOST_CHOICES]),
        more_steps=max(0, len(still_open) - MOST_CHOICES),
        added_turn=len(state.added),
        takes_turn=f"{len(state.takes)}-{sum(state.takes.values())}",
        key_add=new_key(),
        key_takes=new_key(),
    )


def _changed(situation: Situation) -> tuple[str, ...]:
    added = [
        f"Added: {' and '.join(each.task.who)}, {each.task.title} ({each.task.id}/1)"
        for each in situation.state.added.values()
    ]
    revised = [
        f"Revised: {situation.network.steps[number].do} ({situation.id(number)}) takes {takes_words(situation, number)}"
        for number in range(len(situation.network.steps))
        if situation.is_open(number) and is_revised(situation, number)
    ]
    return (*added, *revised)


def _order_of(situation: Situation, place: int, person: Designator, new_key: NewKey) -> OrderOf:
    procedure = situation.procedure
    numbers = {task: number for number, task in enumerate(situation.lists[person], start=1)}
    tasks = [procedure.task(each) for each in movable(situation, person)]
    close_out = procedure.limits.close_out
    return OrderOf(
        person=person,
        place=place,
        rows=tuple(
            Numbered(
                task.id, task.title, "added" if task.added else "get-ahead" if task.get_ahead else "", numbers[task.id]
            )
            for task in tasks
        ),
        last=procedure.task(close_out).title if close_out in numbers and close_out else "",
        turn=sum(1 for each in situation.state.reordered if each.person == person),
        key=new_key(),
    )


def _before(situation: Situation) -> tuple[Choice, ...]:
    """The tasks that a new step may be put before, with who has them."""
    people: dict[TaskId, list[Designator]] = {}
    for person in situation.network.crew:
        for task in gaps(situation, person):
            if task is not None:
                people.setdefault(task, []).append(person)
    return tuple(
        Choice(task, f"{', '.join(who)}: {situation.procedure.task(task).title}") for task, who in people.items()
    )


def _after(situation: Situation, still_open: list[int]) -> tuple[Choice, ...]:
    """The tasks with open steps, in order of time."""
    tasks = list(dict.fromkeys(situation.network.steps[number].task for number in still_open))
    tasks = [task for task in tasks if task != situation.procedure.limits.close_out]
    return tuple(Choice(task, situation.procedure.task(task).title) for task in tasks[:MOST_CHOICES])


def _step(situation: Situation, number: int) -> Choice:
    step = situation.network.steps[number]
    who = f"{' and '.join(step.who)}: " if step.who else ""
    return Choice(step.id, f"{who}{step.do}, {duration(situation.network.takes_s[number])}")
