"""What to put off when time must be won back: for each loss of worth the most time that it wins.

A *choice* is a closed set of tasks: with a task goes all that depends on it (`choices.goes_with`). Putting off more
never makes the finish later. So from any choice, a better one must contain a task of the chain that sets the finish
there; branching on those tasks alone, in order of worth lost, meets every choice that no other one beats.
"""

import heapq
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from app.core.chain import Tracer
from app.core.choices import goes_with
from app.core.kernel import Kernel, Rows
from app.core.procedure import TaskId
from app.core.situation import Situation
from app.core.turn_back import limit_s

MOST_CHOICES = 400
"""Choices that the search looks at before it gives up being sure."""
EXACT_UP_TO = 16
"""With so many tasks all choices are tried if the search gave up: 65,536 at most."""
TOGETHER = 32
"""Choices walked through the network at once by the search."""
CHUNK = 4096
"""The same when all are tried."""


@dataclass(frozen=True, slots=True)
class Option:
    """A choice that no other one beats: none loses as little worth and finishes as early.

    Attributes:
        tasks: what is put off, in file order. along: those of them that only go along with others of them.
        worth: the worth lost. wins_s: how much sooner the team finishes. finish_s, lead_s, room_s: then; room is None
            without a limit.
        meets_plan, meets_limit: whether the finish is then no later than the plan's, and the limit.
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


@dataclass(frozen=True, slots=True)
class Options:
    """`exact`: every choice was ruled on; otherwise these are the best found. `of` counts the tasks to choose from."""

    options: tuple[Option, ...]
    exact: bool
    of: int

    def least(self, aim: str) -> Option | None:
        """The option of least worth lost that meets the aim, ``plan`` or ``limit``; None when none does."""
        return next((each for each in self.options if getattr(each, f"meets_{aim}")), None)


def options(situation: Situation) -> Options:
    """All the options, the least worth lost first. What wins no time is not among them."""
    field = _Field(situation)
    if not field.tasks:
        return Options((), True, 0)
    found, exact = _searched(field)
    if not exact and len(field.tasks) <= EXACT_UP_TO:
        found, exact = _all_tried(field), True
    front = tuple(_option(situation, field, choice, end) for choice, end in _front(field, found))
    return Options(front, exact, len(field.tasks))


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


class _Field:
    """The tasks to choose from as bits, and the kernel that says when the team finishes without some of them."""

    def __init__(self, situation: Situation) -> None:
        closed = candidates(situation)
        network = situation.network
        self.tasks = tuple(closed)
        bit = {task: place for place, task in enumerate(self.tasks)}
        self.closure = tuple(_bits(bit[each] for each in along if each in bit) for along in closed.values())
        self.worth = tuple(situation.procedure.task(task).worth for task in self.tasks)
        self.bit_of = {
            number: bit[step.task]
            for number, step in enumerate(network.steps)
            if step.task in bit and situation.is_open(number)
        }
        self.kernel = Kernel(network, situation.facts, situation.at_s, self.bit_of.keys())
        self.tracer = Tracer(self.kernel, network.lists)
        self.takes_s = np.array(network.takes_s, dtype=np.float64)
        self.counted = tuple(
            step for step in range(len(network.steps)) if network.counted[step] and situation.is_open(step)
        )

    def finishes(self, choices: NDArray[Any]) -> tuple[Rows, Rows]:
        """[K, n] finishes and [K] of the team, for [K] choices: whole numbers of NumPy, or of Python, which hold any
        count of tasks."""
        durations = np.tile(self.takes_s[:, None], (1, len(choices))).T
        off = {step: (choices >> bit & 1).astype(np.bool_) for step, bit in self.bit_of.items()}
        found = self.kernel.finishes(durations, off)
        return found, self.kernel.last_finish(found, off)

    def lost(self, choice: int) -> int:
        return sum(self.worth[place] for place in self.members(choice))

    def members(self, choice: int) -> Iterator[int]:
        return (place for place in range(len(self.tasks)) if choice >> place & 1)

    def on_chain(self, choice: int, finish_s: Sequence[float]) -> set[int]:
        """The bits of the tasks on the chain that sets the finish."""
        off = {step for step, bit in self.bit_of.items() if choice >> bit & 1}
        ends = [step for step in self.counted if step not in off]
        if not ends:
            return set()
        last = max(ends, key=finish_s.__getitem__)
        chain = self.tracer.back(last, finish_s, off)
        return {self.bit_of[step] for step in chain if step in self.bit_of and step not in off}


def _bits(places: Iterator[int]) -> int:
    return sum(1 << place for place in set(places))


Found = dict[int, int]
"""Choice to the team's finish, elapsed seconds."""


def _searched(field: _Field) -> tuple[Found, bool]:
    """Best first by worth lost. Exact when no choice is left that could beat one that wins all that can be won."""
    whole = _bits(iter(range(len(field.tasks))))
    least_s = float(field.finishes(np.array([whole], dtype=object))[1][0])
    waiting, seen, found = [(0, 0)], {0}, Found()
    enough = field.lost(whole) + 1
    while waiting and waiting[0][0] < enough and len(found) < MOST_CHOICES:
        batch = [heapq.heappop(waiting)[1] for _ in range(min(TOGETHER, len(waiting)))]
        finishes, ends = field.finishes(np.array(batch, dtype=object))
        for choice, row, end in zip(batch, finishes, ends, strict=True):
            found[choice] = round(float(end))
            if end <= least_s:
                enough = min(enough, field.lost(choice))
                continue
            for bit in field.on_chain(choice, row.tolist()):
                child = choice | field.closure[bit]
                if child not in seen:
                    seen.add(child)
                    heapq.heappush(waiting, (field.lost(child), child))
    return found, not waiting or waiting[0][0] >= enough


def _all_tried(field: _Field) -> Found:
    choices = np.arange(1 << len(field.tasks), dtype=np.int64)
    for place, closure in enumerate(field.closure):
        choices = choices[(choices >> place & 1 == 0) | (choices & closure == closure)]
    found = Found()
    for begin in range(0, len(choices), CHUNK):
        some = choices[begin : begin + CHUNK]
        _, ends = field.finishes(some)
        found.update(zip(some.tolist(), (round(end) for end in ends.tolist()), strict=True))
    return found


def _front(field: _Field, found: Found) -> Iterator[tuple[int, int]]:
    """The choices that no other beats, by worth lost; the empty one left out. Of equals, that of the fewest tasks."""
    best_s = found[0]
    for choice, end in sorted(found.items(), key=lambda each: (field.lost(each[0]), each[1], each[0].bit_count())):
        if end < best_s:
            best_s = end
            yield choice, end


def _option(situation: Situation, field: _Field, choice: int, end: int) -> Option:
    places = tuple(field.members(choice))
    limit = limit_s(situation)
    led = {other for place in places for other in field.members(field.closure[place]) if other != place}
    return Option(
        tasks=tuple(field.tasks[place] for place in places),
        along=tuple(field.tasks[place] for place in places if place in led),
        worth=field.lost(choice),
        wins_s=situation.projection.end_s - end,
        finish_s=end,
        lead_s=situation.plan.end_s - end,
        room_s=None if limit is None else limit - end,
        meets_plan=end <= situation.plan.end_s,
        meets_limit=limit is None or end <= limit,
    )
