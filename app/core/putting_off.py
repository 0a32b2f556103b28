"""What to put off when time must be won back: for each loss of worth the most time that it wins.

The searches are `closed_sets`'; this module says what is asked of them, and how sure the answers are.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from app.core.choices import goes_with
from app.core.closed_sets import ClosedSets, Found, all_tried, cheapest_first, least_for
from app.core.procedure import TaskId
from app.core.situation import Situation
from app.core.turn_back import limit_s

MOST_CHOICES = 150
"""Choices that the search looks at, from the least worth lost upwards, before it stops there."""
MOST_FOR_AIM = 400
"""The same for the least loss that meets the plan's finish, or the limit."""
EXACT_UP_TO = 16
"""With so many tasks all choices are tried if the search stopped: 65,536 at most."""


@dataclass(frozen=True, slots=True)
class Option:
    """A choice of tasks to put off.

    Attributes:
        tasks: what is put off, in file order. along: those of them that only go along with others of them.
        worth: the worth lost. wins_s: how much sooner the team finishes. finish_s, lead_s, room_s: then; room is None
            without a limit.
        meets_plan, meets_limit: whether the finish is then no later than the plan's, and the limit.
        exact: no other choice beats it, losing as little worth and finishing as early; else it is the best found.
    """

    tasks: tuple[TaskId, ...]
    along: tuple[TaskId, ...]
    worth: int
    wins_s: int
    finish_s: int
    lead_s: int
    room_s: int | None
    meets_plan: bool
    meets_limit: bool
    exact: bool


@dataclass(frozen=True, slots=True)
class Options:
    """Attributes: exact: these are all the choices that no other beats. of: how many tasks there are to choose from."""

    options: tuple[Option, ...]
    exact: bool
    of: int

    def least(self, aim: str) -> Option | None:
        """The option of least worth lost that meets the aim, ``plan`` or ``limit``; None when none does."""
        return next((each for each in self.options if getattr(each, f"meets_{aim}")), None)


def options(situation: Situation) -> Options:
    """The options, the least worth lost first. What wins no time is not among them.

    All of them where the search came to its end, or up to EXACT_UP_TO tasks. Otherwise those of least worth lost; and,
    where the plan's finish or the limit is not met, the least loss that meets it, or else that wins the most.
    """
    closed = candidates(situation)
    if not closed:
        return Options((), True, 0)
    sets = ClosedSets(situation, closed)
    found, sure_below = cheapest_first(sets, MOST_CHOICES)
    if sure_below < math.inf and len(closed) <= EXACT_UP_TO:
        found, sure_below = all_tried(sets), math.inf
    sure = {choice for choice in found if sets.lost(choice) < sure_below}
    if sure_below < math.inf:
        for choice, is_sure in _for_aims(situation, sets, min(found[choice] for choice in sure)):
            found[choice] = round(float(sets.finishes([choice])[1][0]))
            sure |= {choice} if is_sure else set()
    front = tuple(_option(situation, sets, choice, end, choice in sure) for choice, end in _front(sets, found))
    return Options(front, sure_below == math.inf, len(closed))


def _for_aims(situation: Situation, sets: ClosedSets, reached_s: int) -> Iterator[tuple[int, bool]]:
    """The least loss for each aim that is not met by `reached_s` already, and whether that is sure."""
    most_s = float(sets.finishes([sets.whole])[1][0])
    limit = limit_s(situation)
    for aim_s in {situation.plan.end_s, situation.plan.end_s if limit is None else limit}:
        if aim_s < reached_s:
            choice, is_sure = least_for(sets, max(aim_s, most_s), MOST_FOR_AIM)
            if choice is not None:
                yield choice, is_sure


def _front(sets: ClosedSets, found: Found) -> Iterator[tuple[int, int]]:
    """Those that no other one found beats, by worth lost, of equals that of the fewest tasks; without the empty one."""
    best_s = found[0]
    for choice, end in sorted(found.items(), key=lambda each: (sets.lost(each[0]), each[1], each[0].bit_count())):
        if end < best_s:
            best_s = end
            yield choice, end


def candidates(situation: Situation) -> dict[TaskId, tuple[TaskId, ...]]:
    """The tasks that can be put off now, each with all that goes with it and is not put off yet, itself included."""
    procedure, state = situation.procedure, situation.state
    found = {}
    for task in procedure.tasks:
        steps = [situation.network.index[step.id] for step in task.steps]
        if not task.may_put_off or not any(situation.is_open(step) for step in steps):
            continue
        along, bars = goes_with(procedure, task.id)
        if not bars and not any(state.begun(each) for each in along):
            found[task.id] = tuple(each for each in along if each not in state.put_off)
    return found


def _option(situation: Situation, sets: ClosedSets, choice: int, end: int, exact: bool) -> Option:
    places = tuple(sets.members(choice))
    limit = limit_s(situation)
    led = {other for place in places for other in sets.members(sets.closure[place]) if other != place}
    return Option(
        tasks=tuple(sets.tasks[place] for place in places),
        along=tuple(sets.tasks[place] for place in places if place in led),
        worth=sets.lost(choice),
        wins_s=situation.projection.end_s - end,
        finish_s=end,
        lead_s=situation.plan.end_s - end,
        room_s=None if limit is None else limit - end,
        meets_plan=end <= situation.plan.end_s,
        meets_limit=limit is None or end <= limit,
        exact=exact,
    )
