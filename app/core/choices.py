"""What may be chosen now: optional work and its best place, and what goes along when a task is put off.

The rule for get-ahead items follows what the trade does: extra work is released on time remaining, and a plan is
filled from the top priority down (NASA, *The International Space Station: Operating an Outpost in the New
Frontier*, ch. 17, p. 292). Its exact form here is our own and stands in DEVELOPERS.md.
"""

import sys
from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from itertools import chain, product

from app.core.freeing import with_freed
from app.core.network import Cycle, Places, arrange, with_task
from app.core.passes import Facts, Timeline, project
from app.core.placing import Placing
from app.core.procedure import Designator, Procedure, Task, TaskId
from app.core.reasons import why_not_now, why_not_there
from app.core.situation import Situation

MOST_PLACES = 400
"""Of a joint item at most this many combinations of places are tried, the earliest first. Our own bound, no source."""


@dataclass(frozen=True, slots=True)
class Offer:
    """A get-ahead item, or work that was put off, and what taking it now would do.

    Attributes:
        task, who, takes_s: the item, everyone it needs, the sum of its steps' likely durations.
        eligible: whether it may be taken now; if not, `reason` says why, in words.
        places: the best place in each person's list; empty when there is none.
        lead_after_s, finish_after_s: team lead and projected finish with it at that place; None without a place.
        was_put_off: it is nominal work that was put off.
    """

    task: TaskId
    who: tuple[Designator, ...]
    takes_s: int
    eligible: bool
    reason: str | None
    places: Places
    lead_after_s: int | None
    finish_after_s: int | None
    was_put_off: bool


@dataclass(frozen=True, slots=True)
class Tried:
    """An item at these places, and the times that follow."""

    places: Places
    timeline: Timeline


def offers(situation: Situation) -> tuple[Offer, ...]:
    """Every optional task that is not in the run: first the work that was put off, then the get-ahead items."""
    state, tasks = situation.state, situation.procedure.tasks
    put_off = [task for task in tasks if task.id in state.put_off]
    extra = [task for task in tasks if task.get_ahead and task.id not in state.taken and not _settled(situation, task)]
    return tuple(offer(situation, task) for task in (*put_off, *extra))


def offer(situation: Situation, task: Task) -> Offer:
    """What taking `task` now would do, at the place that leaves the largest team lead, the earliest of equals."""
    best = best_place(situation, task)
    reason = why_not_now(situation, task) or why_not_there(situation, task, best.timeline if best else None)
    return Offer(
        task=task.id,
        who=task.people,
        takes_s=sum(situation.network.takes_s[situation.network.index[step.id]] for step in task.steps),
        eligible=reason is None,
        reason=reason,
        places=best.places if best else (),
        lead_after_s=situation.lead_of(best.timeline) if best else None,
        finish_after_s=best.timeline.end_s if best else None,
        was_put_off=task.id in situation.state.put_off,
    )


def _settled(situation: Situation, task: Task) -> bool:
    return all(step.id in situation.state.done or step.id in situation.state.not_needed for step in task.steps)


# Where it may stand


def gaps(situation: Situation, person: Designator, together: Collection[TaskId] = ()) -> list[TaskId | None]:
    """The places between this person's tasks where work may be put, earliest first: each is the task after the place.

    A place lies after all work that they have begun and before the close-out task; `None` is the end of a list
    without one. What is taken `together` with it counts as not begun, even where it could start at once.
    """
    close_out = situation.procedure.limits.close_out
    if close_out is not None and _closed_out(situation, person, situation.procedure.task(close_out)):
        return []
    found: list[TaskId | None] = []
    with_open = _with_open(situation, person)
    for task in situation.lists.get(person, ()):
        if task not in with_open:
            continue
        if situation.begun(task) and task not in together:
            found = []
            if task == close_out:
                return []
            continue
        found.append(task)
        if task == close_out:
            return found
    return [*found, None]


def _with_open(situation: Situation, person: Designator) -> set[TaskId]:
    """The tasks in which this person still has a step to do."""
    network = situation.network
    own = network.lists[network.crew.index(person)]
    return {network.steps[number].task for number in own if situation.is_open(number)}


def _closed_out(situation: Situation, person: Designator, close_out: Task) -> bool:
    """Whether close-out is over, for everyone or for this person: no work is put after it."""
    left = [step for step in close_out.steps if situation.is_open(situation.network.index[step.id])]
    return not left or (person in close_out.people and not any(person in step.who for step in left))


def _combinations(situation: Situation, task: Task, together: Collection[TaskId]) -> Iterator[Places]:
    people = task.people
    if not people:
        yield ()
        return
    by_person = [gaps(situation, person, together) for person in people]
    most = _most_each(len(people))
    for combination in product(*(found[:most] for found in by_person)):
        yield tuple(zip(people, combination, strict=True))


def _most_each(people: int) -> int:
    """Of one person's places all are tried; of several people's so many each that the combinations stay few."""
    return sys.maxsize if people < 2 else int(MOST_PLACES ** (1 / people) + 1e-9)


def tries(situation: Situation, task: Task, together: Collection[TaskId] = ()) -> Iterator[Tried]:
    """The item at every place where it may stand, the earliest first; `together` as in `gaps`."""
    numbers = [number for number, step in enumerate(situation.network.steps) if step.task == task.id]
    again = {number for number in numbers if situation.id(number) not in situation.state.not_needed}
    facts = replace(
        situation.facts,
        removed=situation.facts.removed - again,
        floor_s={**situation.facts.floor_s, **dict.fromkeys(numbers, situation.at_s)},
    )
    facts = with_freed(situation.network, facts)
    placing = Placing(situation.network, task.id, facts.done, facts.removed)
    for places in _combinations(situation, task, together):
        order = placing.at(places) or _order_anew(situation, task, places, facts)
        if order is not None:
            network = replace(situation.network, order=order)
            yield Tried(places, project(network, facts, situation.at_s))


def are_all_tried(situation: Situation, task: Task, together: Collection[TaskId] = ()) -> bool:
    """Whether `tries` leaves no combination of places out."""
    most = _most_each(len(task.people))
    return all(len(gaps(situation, person, together)) <= most for person in task.people)


def _order_anew(situation: Situation, task: Task, places: Places, facts: Facts) -> tuple[int, ...] | None:
    """None for a place that would make the item wait for work that comes after it."""
    lists = with_task(situation.lists, task.id, places)
    try:
        taken = (*situation.state.taken, task.id)
        return arrange(situation.network, lists, taken, facts.done, facts.removed).order
    except Cycle:
        return None


def best_place(situation: Situation, task: Task, together: Collection[TaskId] = ()) -> Tried | None:
    """The place that leaves the largest team lead, the earliest start of equals; None when there is none."""
    numbers = [number for number, step in enumerate(situation.network.steps) if step.task == task.id]

    def merit(tried: Tried) -> tuple[int, int]:
        starts = min((tried.timeline.times(number)[0] for number in numbers), default=0)
        return tried.timeline.end_s, starts

    return min(tries(situation, task, together), key=merit, default=None)


# Putting off


def goes_with(procedure: Procedure, task: TaskId) -> tuple[tuple[TaskId, ...], tuple[TaskId, ...]]:
    """What depends on a task: (the tasks put off with it, the tasks that must be done and stand in the way).

    Every task that waits for it, directly or through others, goes with it. The close-out task never does: it
    gathers whatever was done. Get-ahead items are not in the nominal run, so they neither go along nor stand in
    the way.
    """
    along, bars = [task], list[TaskId]()
    for other in _dependents(procedure, task):
        if not other.get_ahead:
            (along if other.may_put_off else bars).append(other.id)
    return tuple(along), tuple(bars)


def _dependents(procedure: Procedure, task: TaskId) -> list[Task]:
    """Tasks that wait for `task`, directly or through others but not through close-out, in file order."""
    waiting = dict[TaskId, set[TaskId]]()
    for other in procedure.tasks:
        if other.id != procedure.limits.close_out:
            for link in chain.from_iterable(step.after for step in other.steps):
                waiting.setdefault(link.task, set()).add(other.id)
    reached, grown = {task}, [task]
    while grown:
        more = waiting.get(grown.pop(), set()) - reached
        reached |= more
        grown += more
    return [other for other in procedure.tasks if other.id in reached - {task}]
