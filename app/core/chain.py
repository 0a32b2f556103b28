"""The critical chain now: the steps that set the projected finish, in order, and what would have to be quicker.

It reads a situation and changes nothing.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from app.core.kernel import Kernel, Move
from app.core.situation import Situation, StepState


class Because(StrEnum):
    """What sets a step's start."""

    AFTER = "waits for the step before"
    PERSON = "same person"
    WINDOW = "its window opens"
    KNOWN = "can start then"
    UNDER_WAY = "under way"


@dataclass(frozen=True, slots=True)
class Link:
    """One step of the chain.

    Attributes:
        step: its number. start_s, finish_s: projected, elapsed seconds. because: what sets its start.
        gain_s: how much sooner the team would finish if this step were over at once: the most that quicker work on it
            can win before another chain sets the finish.
    """

    step: int
    start_s: int
    finish_s: int
    because: Because
    gain_s: int


class Tracer:
    """Walks back from a step along what it waited for, in a kernel's finishes."""

    def __init__(self, kernel: Kernel, lists: Sequence[Sequence[int]]) -> None:
        self._moves = {move.step: move for move in kernel.moves}
        self._started = {move.step for move in kernel.moves if move.started_s is not None}
        self._before: dict[int, list[tuple[int, ...]]] = {step: [] for step in self._moves}
        for one_list in lists:
            self._follow([step for step in one_list if step in self._moves and not self._moves[step].removed])

    def _follow(self, held: Sequence[int]) -> None:
        """For each step of a person's list the steps that it may follow at once, the nearest first: back to the first
        one that is sure to hold it back."""
        for place, step in enumerate(held):
            earlier = list[int]()
            for other in reversed(held[:place]):
                earlier.append(other)
                if other not in self._started and not self._moves[other].removable:
                    break
            self._before[step].append(tuple(earlier))

    def back(self, step: int, finish_s: Sequence[float], off: Collection[int] = ()) -> list[int]:
        """The chain that ends with `step`, the last first: each waited for the next one.

        While every step of it stays in the run and takes as long, `step` can't finish sooner: each one's start is at
        least the next one's finish, window or not, and the last one's is fixed by what is known.

        Args:
            finish_s: of each step, one row of `Kernel.finishes`. off: the steps put off in that row, of the kernel's
                `removable` ones.
        """
        chain = [step]
        while (earlier := self.binding(self._moves[chain[-1]], finish_s, off)) is not None:
            chain.append(earlier)
        return chain

    def binding(self, move: Move, finish_s: Sequence[float], off: Collection[int] = ()) -> int | None:
        """The open step whose finish holds this one back most; None when something known does."""
        if move.started_s is not None:
            return None
        gone = move.removed or move.step in off
        latest, found = (move.passed_on_s if gone else move.since_s), None
        for earlier, wait_s in move.after:
            if finish_s[earlier] + wait_s > latest:
                latest, found = finish_s[earlier] + wait_s, earlier
        for nearest_first in () if gone else self._before[move.step]:
            for earlier in nearest_first:
                if earlier in off:
                    continue
                if finish_s[earlier] > latest:
                    latest, found = finish_s[earlier], earlier
                if earlier not in self._started:
                    break  # A recorded start may have overtaken those before it; nothing else has.
        return found


def chain(situation: Situation) -> tuple[Link, ...]:
    """The critical chain, the first step first; empty when nothing is left. Of equal chains the first in file order.

    What stands before a step that waits for its window is of the chain only where it could win something: where
    quicker work on it would reach an earlier opening.
    """
    network, projection = situation.network, situation.projection
    kernel = Kernel(network, situation.facts, situation.at_s)
    finish_s = [-1.0 if each is None else float(each) for each in projection.finish_s]
    ends = [step for step in range(len(finish_s)) if situation.is_open(step) and network.counted[step]]
    last = max(ends, key=lambda step: finish_s[step], default=None)
    if last is None:
        return ()
    tracer, moves = Tracer(kernel, network.lists), {move.step: move for move in kernel.moves}
    links = list[Link]()
    step: int | None = last
    while step is not None:
        move = moves[step]
        earlier = tracer.binding(move, finish_s)
        link = _link(situation, move, earlier, finish_s)
        if not move.removed:
            links.append(link)
        step = earlier if link.because in (Because.AFTER, Because.PERSON, Because.WINDOW) else None
    return _begun(_with_gains(situation, kernel, tuple(reversed(links))))


def _begun(links: tuple[Link, ...]) -> tuple[Link, ...]:
    """Without what comes before a window in vain. The first link waits for no other: a removed step set its start."""
    for place, link in reversed(list(enumerate(links))):
        if link.because is Because.WINDOW and not any(each.gain_s for each in links[:place]):
            return links[place:]
    first, *others = links
    if first.because in (Because.AFTER, Because.PERSON):
        first = replace(first, because=Because.KNOWN)
    return (first, *others)


def _link(situation: Situation, move: Move, earlier: int | None, finish_s: Sequence[float]) -> Link:
    start_s, ends_s = situation.projection.times(move.step)
    return Link(move.step, start_s, ends_s, _because(situation, move, earlier, start_s, finish_s), 0)


def _because(situation: Situation, move: Move, earlier: int | None, start_s: int, finish_s: Sequence[float]) -> Because:
    if situation.states[move.step] is StepState.UNDER_WAY:
        return Because.UNDER_WAY
    waits = dict(move.after)
    if earlier is None:
        known_s = move.passed_on_s if move.removed else move.since_s
        return Because.WINDOW if move.spans is not None and start_s > known_s else Because.KNOWN
    if move.spans is not None and start_s > finish_s[earlier] + waits.get(earlier, 0):
        return Because.WINDOW
    return Because.AFTER if earlier in waits else Because.PERSON


def _with_gains(situation: Situation, kernel: Kernel, links: tuple[Link, ...]) -> tuple[Link, ...]:
    """One row a link: the same durations, but this step takes no more time than it has had."""
    rows = np.tile(np.array(situation.network.takes_s, dtype=np.float64)[:, None], (1, len(links)))
    for row, link in enumerate(links):
        rows[link.step, row] = 0.0
    ends = kernel.last_finish(kernel.finishes(rows.T))
    return tuple(
        replace(link, gain_s=situation.projection.end_s - round(float(end)))
        for link, end in zip(links, ends, strict=True)
    )
