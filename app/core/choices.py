"""What may be chosen now: optional work and its best place, and what goes along when a task is put off.

The rule for get-ahead items follows what the trade does: extra work is released on time remaining, and a plan is
filled from the top priority down (NASA, *The International Space Station: Operating an Outpost in the New
Frontier*, ch. 17, p. 292). Its exact form here is our own and stands in DEVELOPERS.md.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product

from app.core.network import Cycle, Places, arrange, with_task
from app.core.passes import Facts, Timeline, project
from app.core.placing import Placing
from app.core.procedure import Designator, Procedure, Task, TaskId
from app.core.situation import Situation
from app.core.times import clock, duration, lead_words

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
class _Tried:
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
    best = _best(situation, task)
    reason = _why_not_now(situation, task) or _why_not_there(situation, task, best)
    return Offer(
        task=task.id,
        who=task.people,
        takes_s=sum(step.takes.likely_s for step in task.steps),
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


def gaps(situation: Situation, person: Designator) -> list[TaskId | None]:
    """The places between this person's tasks where work may be put, earliest first: each is the task after the place.

    A place lies after all work that they have begun and before the close-out task; `None` is the end of a list
    without one.
    """
    close_out = situation.procedure.limits.close_out
    if close_out is not None and _closed_out(situation, person, situation.procedure.task(close_out)):
        return []
    found: list[TaskId | None] = []
    with_open = _with_open(situation, person)
    for task in situation.lists.get(person, ()):
        if task not in with_open:
            continue
        if situation.begun(task):
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


def _combinations(situation: Situation, task: Task) -> Iterator[Places]:
    people = task.people
    if not people:
        yield ()
        return
    by_person = [gaps(situation, person) for person in people]
    most = int(MOST_PLACES ** (1 / len(people)) + 1e-9)
    kept = [found if len(people) == 1 else found[:most] for found in by_person]
    for combination in product(*kept):
        yield tuple(zip(people, combination, strict=True))


def _tries(situation: Situation, task: Task) -> Iterator[_Tried]:
    numbers = [number for number, step in enumerate(situation.network.steps) if step.task == task.id]
    again = {number for number in numbers if situation.id(number) not in situation.state.not_needed}
    facts = replace(
        situation.facts,
        removed=situation.facts.removed - again,
        floor_s={**situation.facts.floor_s, **dict.fromkeys(numbers, situation.at_s)},
    )
    placing = Placing(situation.network, task.id, facts.done, facts.removed)
    for places in _combinations(situation, task):
        order = placing.at(places) or _order_anew(situation, task, places, facts)
        if order is not None:
            network = replace(situation.network, order=order)
            yield _Tried(places, project(network, facts, situation.at_s))


def _order_anew(situation: Situation, task: Task, places: Places, facts: Facts) -> tuple[int, ...] | None:
    """None for a place that would make the item wait for work that comes after it."""
    lists = with_task(situation.lists, task.id, places)
    try:
        taken = (*situation.state.taken, task.id)
        return arrange(situation.network, lists, taken, facts.done, facts.removed).order
    except Cycle:
        return None


def _best(situation: Situation, task: Task) -> _Tried | None:
    numbers = [number for number, step in enumerate(situation.network.steps) if step.task == task.id]

    def merit(tried: _Tried) -> tuple[int, int]:
        starts = min((tried.timeline.times(number)[0] for number in numbers), default=0)
        return tried.timeline.end_s, starts

    return min(_tries(situation, task), key=merit, default=None)


# Why not


def _why_not_now(situation: Situation, task: Task) -> str | None:
    """The reasons that have nothing to do with the place."""
    if situation.state.ended_s is not None:
        return "the run has ended"
    return _team_reason(situation) or _prerequisite_reason(situation, task) or _people_reason(situation, task)


def _team_reason(situation: Situation) -> str | None:
    least = situation.procedure.least_lead_s
    if situation.lead_s >= least:
        return None
    if situation.lead_s < 0:
        return f"the team is {lead_words(situation.lead_s)}"
    return f"the team is {lead_words(situation.lead_s)}; at least {duration(least)} ahead is asked for"


def _prerequisite_reason(situation: Situation, task: Task) -> str | None:
    own = {step.id for step in task.steps}
    for step in task.steps:
        for earlier in _unmet(situation, situation.network.index[step.id]):
            if situation.id(earlier) not in own:
                off = ", which was put off" if earlier in situation.facts.removed else ""
                return f"waits for {named(situation, earlier)}{off}"
    return None


def _unmet(situation: Situation, step: int) -> Iterator[int]:
    """The prerequisites that are not done. What was put off is not done; what is not needed stands for its own."""
    for earlier, _ in situation.network.before[step]:
        if earlier in situation.facts.done:
            continue
        if situation.id(earlier) in situation.state.not_needed:
            yield from _unmet(situation, earlier)
        else:
            yield earlier


def named(situation: Situation, number: int) -> str:
    """A step in words: who, what, and its id."""
    step = situation.network.steps[number]
    who = f"{' and '.join(step.who)}: " if step.who else ""
    return f"{who}“{step.do}” ({step.id})"


def _people_reason(situation: Situation, task: Task) -> str | None:
    for person in task.people:
        lead = situation.person(person).lead_s
        if not situation.on_plan_or_ahead(lead):
            return f"{person} is {lead_words(lead)}"
        hold = situation.at_hold(person)
        if hold is not None:
            return f"{person} is at a hold ({hold})"
    return None


def _why_not_there(situation: Situation, task: Task, best: _Tried | None) -> str | None:
    """The reasons that its best place gives."""
    if best is None:
        return (
            "no place is left before close-out" if situation.procedure.limits.close_out else "no place is left for it"
        )
    lead = situation.lead_of(best.timeline)
    least = situation.procedure.least_lead_s
    if lead < least:
        return f"would leave the team {lead_words(lead)}" + (f", less than {duration(least)}" if lead >= 0 else "")
    numbers = [number for number, step in enumerate(situation.network.steps) if step.task == task.id]
    if any(number in best.timeline.misses for number in numbers):
        return "no window is left that it fits"
    own_s = max((best.timeline.times(number)[1] for number in numbers), default=0)
    return _limit_reason(situation, "close-out", closes_out_s(situation, best.timeline)) or _limit_reason(
        situation, "it", own_s
    )


def _limit_reason(situation: Situation, what: str, ends_s: int) -> str | None:
    limit = situation.procedure.limits.finish_s
    if limit is None or ends_s <= limit:
        return None
    return f"{what} would end at {clock(ends_s)}, {duration(ends_s - limit)} after the limit"


def closes_out_s(situation: Situation, timeline: Timeline) -> int:
    """When close-out ends on this timeline; its end when the procedure names no close-out task."""
    close_out = situation.procedure.limits.close_out
    if close_out is None:
        return timeline.end_s
    return max(
        timeline.times(situation.network.index[step.id])[1] for step in situation.procedure.task(close_out).steps
    )


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
    reached, grown = {task}, True
    while grown:
        more = (
            {
                other.id
                for other in procedure.tasks
                if reached & {link.task for step in other.steps for link in step.after}
            }
            - reached
            - {procedure.limits.close_out}
        )
        reached |= more
        grown = bool(more)
    return [other for other in procedure.tasks if other.id in reached - {task}]
