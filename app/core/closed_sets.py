"""The sets of tasks that can be put off, as bits, and three searches among them. It knows no aims and no words.

A *choice* is a closed set of tasks: with a task goes all that depends on it (`choices.goes_with`). Putting off more
never makes the finish later. So from any choice, a better one must contain a task of the chain that sets the finish
there (`chain.Tracer`), and the searches branch on those tasks alone.
"""

import heapq
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from app.core.chain import Tracer
from app.core.kernel import Kernel, Rows
from app.core.procedure import TaskId
from app.core.situation import Situation

TOGETHER = 50
"""Choices walked through the network at once by a search."""
CHUNK = 4096
"""The same when all are tried."""

Found = dict[int, int]
"""Choice to the team's finish, elapsed seconds."""


class ClosedSets:
    """The tasks to choose from as bits, and the kernel that says when the team finishes without some of them.

    Args:
        closed: each task with all that goes with it, itself included; there may be tasks in there that are not keys.

    Attributes:
        tasks: bit by bit. closure: for each bit the choice that it leads to. whole: all of them put off.
    """

    def __init__(self, situation: Situation, closed: Mapping[TaskId, Sequence[TaskId]]) -> None:
        network = situation.network
        self.tasks = tuple(closed)
        bit = {task: place for place, task in enumerate(self.tasks)}
        self.closure = tuple(sum(1 << bit[each] for each in {*along} if each in bit) for along in closed.values())
        self.whole = (1 << len(self.tasks)) - 1
        self._worth = tuple(situation.procedure.task(task).worth for task in self.tasks)
        self._lost: dict[int, int] = {}
        self._bit_of = {
            number: bit[step.task]
            for number, step in enumerate(network.steps)
            if step.task in bit and situation.is_open(number)
        }
        self._steps_of = [{step for step, own in self._bit_of.items() if own == place} for place in range(len(bit))]
        self._kernel = Kernel(network, situation.facts, situation.at_s, self._bit_of.keys())
        self._tracer = Tracer(self._kernel, network.lists)
        self._takes_s = np.array(network.takes_s, dtype=np.float64)
        open_steps = (step for step in range(len(network.steps)) if situation.is_open(step))
        self._counted = [step for step in open_steps if network.counted[step]]

    def finishes(self, choices: Sequence[int]) -> tuple[Rows, Rows]:
        """[K, n] finishes and [K] of the team, for K choices."""
        # Whole numbers of NumPy are quicker; those of Python hold any count of tasks.
        rows: NDArray[Any] = np.array(choices, dtype=np.int64 if len(self.tasks) < 63 else object)
        durations = np.tile(self._takes_s[:, None], (1, len(rows))).T
        masks = [(rows >> place & 1).astype(np.bool_) for place in range(len(self.tasks))]
        off = {step: masks[place] for step, place in self._bit_of.items()}
        found = self._kernel.finishes(durations, off)
        return found, self._kernel.last_finish(found, off)

    def lost(self, choice: int) -> int:
        """The worth of its tasks."""
        if choice not in self._lost:
            self._lost[choice] = sum(self._worth[place] for place in self.members(choice))
        return self._lost[choice]

    def members(self, choice: int) -> Iterator[int]:
        return (place for place in range(len(self.tasks)) if choice >> place & 1)

    def on_chain(self, choice: int, finish_s: Sequence[float]) -> set[int]:
        """The bits of the tasks on the chain that sets the finish there."""
        off: set[int] = set().union(*(self._steps_of[place] for place in self.members(choice)))
        last = max((step for step in self._counted if step not in off), key=finish_s.__getitem__, default=None)
        if last is None:
            return set()
        chain = self._tracer.back(last, finish_s, off)
        return {self._bit_of[step] for step in chain if step in self._bit_of and step not in off}


def cheapest_first(sets: ClosedSets, most: int) -> tuple[Found, float]:
    """Choices in order of worth lost, until one wins all that can be won, or about `most` were looked at.

    Returns:
        What was found, the empty choice among it; and the worth lost below which every choice was ruled on: none of
        less worth finishes earlier than the best found of no more worth. Infinite when all were.
    """
    least_s = float(sets.finishes([sets.whole])[1][0])
    waiting, seen, found = [(0, 0)], {0}, Found()
    enough: float = math.inf
    while waiting and waiting[0][0] < enough and len(found) < most:
        batch = [heapq.heappop(waiting)[1] for _ in range(min(TOGETHER, len(waiting)))]
        for choice, row, end in zip(batch, *sets.finishes(batch), strict=True):
            found[choice] = round(float(end))
            if end <= least_s:
                enough = min(enough, sets.lost(choice))
                continue
            for place in sets.on_chain(choice, row.tolist()):
                child = choice | sets.closure[place]
                if child not in seen:
                    seen.add(child)
                    heapq.heappush(waiting, (sets.lost(child), child))
    done = not waiting or waiting[0][0] >= enough
    return found, math.inf if done else waiting[0][0]


@dataclass(frozen=True, slots=True, order=True)
class _Node:
    """A choice, and the tasks (bits) that are to stay in the run in what grows from it."""

    lost: int
    choice: int
    kept: int


def least_for(sets: ClosedSets, aim_s: float, most: int) -> tuple[int | None, bool]:
    """The choice of least worth lost that finishes by `aim_s`, of equals that of the earliest finish.

    A greedy choice first, so that there is one whatever happens. Then branch and bound: of the tasks on the chain, the
    first is put off; or it stays and the second is put off; and so on. What grows from a node is given up when it loses
    more than the best, or when not even all that may still be put off would meet the aim.

    Returns:
        The choice, None if none meets the aim; and whether that is sure: it is not after about `most` nodes.
    """
    if float(sets.finishes([sets.whole])[1][0]) > aim_s:
        return None, True
    greedy = _greedy(sets, aim_s)
    best = (sets.lost(greedy), float(sets.finishes([greedy])[1][0]), greedy)
    waiting, nodes = [_Node(0, 0, 0)], 0
    while waiting and waiting[0].lost <= best[0]:
        if nodes >= most:
            return best[2], False
        batch = [heapq.heappop(waiting) for _ in range(min(TOGETHER // 2, len(waiting)))]
        nodes += len(batch)
        rows, ends = sets.finishes([row for node in batch for row in (node.choice, _most(sets, node))])
        for place, node in enumerate(batch):
            if ends[2 * place] <= aim_s:
                best = min(best, (node.lost, float(ends[2 * place]), node.choice))
            elif ends[2 * place + 1] <= aim_s:
                for child in _children(sets, node, rows[2 * place].tolist()):
                    if child.lost <= best[0]:
                        heapq.heappush(waiting, child)
    return best[2], True


def _greedy(sets: ClosedSets, aim_s: float) -> int:
    """From the chain what wins most for its worth, until the aim is met; then without what turns out needless."""
    choice, (rows, ends) = 0, sets.finishes([0])
    while (before_s := float(ends[0])) > aim_s:
        children = [choice | sets.closure[place] for place in sorted(sets.on_chain(choice, rows[0].tolist()))]
        lost = [sets.lost(child) - sets.lost(choice) for child in children]
        won = [before_s - end for end in sets.finishes(children)[1].tolist()]
        place = max(range(len(children)), key=lambda each: (won[each] / lost[each], -lost[each]))
        choice = children[place]
        rows, ends = sets.finishes([choice])
    for place in sorted(sets.members(choice), key=lambda each: -sets.lost(1 << each)):
        fewer = choice & ~(1 << place)
        closed = all(sets.closure[each] & ~fewer == 0 for each in sets.members(fewer))
        if closed and sets.finishes([fewer])[1][0] <= aim_s:
            choice = fewer
    return choice


def _most(sets: ClosedSets, node: _Node) -> int:
    """All that may be put off from there on."""
    found = node.choice
    for closure in sets.closure:
        if not closure & node.kept:
            found |= closure
    return found


def _children(sets: ClosedSets, node: _Node, finish_s: Sequence[float]) -> Iterator[_Node]:
    kept = node.kept
    places = [place for place in sets.on_chain(node.choice, finish_s) if not sets.closure[place] & kept]
    for place in sorted(places, key=lambda each: (sets.lost(sets.closure[each] & ~node.choice), each)):
        if not sets.closure[place] & kept:
            child = node.choice | sets.closure[place]
            yield _Node(sets.lost(child), child, kept)
        kept |= 1 << place


def all_tried(sets: ClosedSets) -> Found:
    """Every choice. There are two to the number of tasks at most."""
    choices = np.arange(1 << len(sets.tasks), dtype=np.int64)
    for place, closure in enumerate(sets.closure):
        choices = choices[(choices >> place & 1 == 0) | (choices & closure == closure)]
    found = Found()
    for begin in range(0, len(choices), CHUNK):
        some = choices[begin : begin + CHUNK].tolist()
        _, ends = sets.finishes(some)
        found.update(zip(some, (round(end) for end in ends.tolist()), strict=True))
    return found
