"""One walk through the network for many rows of durations at once. For one row it is `passes.project`, to the second.

A row is one way in which the rest of the run may go: a draw of the forecast, a set of tasks put off, one step
quicker. The walk is prepared once for a situation and then costs a few array operations a step.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from app.core.network import Network
from app.core.passes import Facts, latest_actual
from app.core.procedure import Span

Rows = NDArray[np.floating[Any]]
"""[K, n], or [K]: seconds, float32 or float64. Whole seconds up to 2**24 (194 days) are exact in float32."""
Masks = Mapping[int, NDArray[np.bool_]]
"""Step number to [K]: the rows in which that step is put off now, as in `passes.Facts.removed`."""


@dataclass(frozen=True, slots=True)
class Move:
    """How one open step finds its times.

    Attributes:
        after: (step, wait) of each prerequisite that is not done. people: seats whose time the step takes.
        since_s: no earlier than this, by what is known already. passed_on_s: the same from done prerequisites alone,
            for the rows in which the step is put off.
        started_s: its recorded start. spans: its window. floored: whether its finish might lie before now.
        removed: put off in every row. removable: in some rows. frees: what waited for it begins no earlier than now.
        likely_s: the duration by which its window is chosen in the rows that fit no opening; None if they stay unmoved.
    """

    step: int
    after: tuple[tuple[int, float], ...]
    people: tuple[int, ...]
    since_s: float
    passed_on_s: float
    started_s: float | None
    spans: Sequence[Span] | None
    floored: bool
    removed: bool
    removable: bool
    frees: bool
    likely_s: float | None


class Kernel:
    """The walk over one network with its facts at elapsed second `at_s`; it keeps nothing between calls.

    Args:
        removable: the steps that a call may put off in some of its rows.
        runs_over: in a row whose duration fits no opening that is left, the step starts where its likely duration
            would, and runs past the closing. Without it, it starts as if it had no window, as in the projection.

    Attributes:
        moves: how each open or removed step finds its times, in the order of the walk.
    """

    def __init__(
        self, network: Network, facts: Facts, at_s: int, removable: Collection[int] = (), *, runs_over: bool = False
    ) -> None:
        self._runs_over = runs_over
        self._n = len(network.steps)
        self._at_s = float(at_s)
        self._free_s = [float(each) for each in latest_actual(network, facts)]
        inside = set(network.order)
        self._outside = np.array([step for step in range(self._n) if step not in inside], dtype=np.intp)
        self._done = {step: float(facts.done[step]) for step in network.order if step in facts.done}
        self._removable = frozenset(removable)
        self.moves = tuple(self._compiled(network, facts))
        self._last = tuple(self._possibly_last(network))
        counted = [self._done[step] for step in self._done if network.counted[step]]
        self._done_end_s = max(counted, default=0.0)

    def finishes(self, durations: Rows, removed: Masks | None = None) -> Rows:
        """When each step finishes, row by row, elapsed seconds.

        Args:
            durations: [K, n], how long each step takes, at least 0; those of done steps are not looked at. Laid out
                step by step in memory (the transpose of a C-contiguous [n, K]) they are used without a copy.
            removed: the rows in which a `removable` step is put off.

        Returns:
            [K, n] of the same kind of float. A step outside the run is NaN; one put off has the time it passes on.

        Raises:
            ValueError: the shape does not fit the network, or a step was not said to be removable.
        """
        if durations.ndim != 2 or durations.shape[1] != self._n:
            raise ValueError(f"durations must be [K, {self._n}], not {list(durations.shape)}")
        masks = removed or {}
        if not masks.keys() <= self._removable:
            raise ValueError("a step is put off that was not said to be removable")
        rows = np.ascontiguousarray(durations.T)
        ends = np.empty_like(rows)
        ends[self._outside] = np.nan
        for step, done_s in self._done.items():
            ends[step] = done_s
        self._walk(rows, ends, masks)
        return ends.T

    def last_finish(self, finishes: Rows, removed: Masks | None = None) -> Rows:
        """[K]: the latest finish of the steps that count for the team, as `Timeline.end_s`, of what `finishes` gave."""
        masks = removed or {}
        ends = np.full(finishes.shape[0], self._done_end_s, dtype=finishes.dtype)
        for step in self._last:
            row = finishes[:, step]
            np.maximum(ends, np.where(masks[step], 0, row) if step in masks else row, out=ends)
        return ends

    # Preparing

    def _compiled(self, network: Network, facts: Facts) -> Iterator[Move]:
        least = dict(self._done)
        free_least = list(self._free_s)
        for step in network.order:
            if step in facts.done:
                continue
            move, known_s = self._move(network, facts, step, least, free_least)
            if move.removed or move.removable:
                least[step] = move.passed_on_s
            else:
                least[step] = max(self._at_s, known_s)
                for seat in move.people:
                    free_least[seat] = max(free_least[seat], least[step])
            yield move

    def _move(
        self, network: Network, facts: Facts, step: int, least: Mapping[int, float], free_least: Sequence[float]
    ) -> tuple[Move, float]:
        """The move, and the time before which it can't begin in any row, by what is known of those before it."""
        removed = step in facts.removed
        started_s = None if removed or step not in facts.started else float(facts.started[step])
        people = () if removed else network.people[step]
        after, met_s = self._links(network, step, least)
        bounds_s = (network.not_before_s[step], facts.floor_s.get(step, 0), facts.freed_s.get(step, 0))
        own_s = 0.0 if removed else float(max(bounds_s))
        since_s = max([own_s, met_s, *(self._free_s[seat] for seat in people)])
        known_s = max([since_s, *(least[earlier] for earlier, _ in after), *(free_least[seat] for seat in people)])
        move = Move(
            step=step,
            after=after,
            people=people,
            since_s=since_s,
            passed_on_s=met_s,
            started_s=started_s,
            spans=None if removed or started_s is not None else network.spans[step],
            floored=started_s is not None or known_s < self._at_s,
            removed=removed,
            removable=step in self._removable and not removed,
            frees=step not in facts.floor_s,
            likely_s=float(network.takes_s[step]) if self._runs_over else None,
        )
        return move, known_s

    def _links(
        self, network: Network, step: int, within: Mapping[int, float]
    ) -> tuple[tuple[tuple[int, float], ...], float]:
        """(Step, wait) of the prerequisites that are not done, and the time that the done ones allow."""
        after, met_s = list[tuple[int, float]](), 0.0
        for earlier, wait_s in network.before[step]:
            if earlier in self._done:
                met_s = max(met_s, self._done[earlier] + wait_s)
            elif earlier in within:
                after.append((earlier, float(wait_s)))
        return tuple(after), met_s

    def _possibly_last(self, network: Network) -> Iterator[int]:
        """The open steps that count and that no other one is sure to outlast."""
        moves = {move.step: move for move in self.moves}
        sure = {
            step
            for step, move in moves.items()
            if network.counted[step] and not move.removed and not move.removable and move.started_s is None
        }
        outlasted = {earlier for step in sure for earlier, _ in moves[step].after}
        for one_list in network.lists:
            holding = [step for step in one_list if step in moves and not moves[step].removed]
            outlasted.update(earlier for earlier, later in pairwise(holding) if later in sure)
        yield from (s for s, move in moves.items() if network.counted[s] and not move.removed and s not in outlasted)

    # Walking

    def _walk(self, rows: Rows, ends: Rows, masks: Masks) -> None:
        """`rows` and `ends` are [n, K] here: one contiguous row a step."""
        free: list[Rows | None] = [None] * len(self._free_s)
        freed = dict[int, Rows]()
        scratch = np.empty(rows.shape[1], dtype=rows.dtype)
        for move in self.moves:
            line, takes = ends[move.step], rows[move.step]
            mask = masks.get(move.step)
            if move.started_s is not None:
                np.add(takes, move.started_s, out=line)
            else:
                operands = [(ends[earlier], wait_s) for earlier, wait_s in move.after]
                busy = [(each, 0.0) for seat in move.people if (each := free[seat]) is not None]
                since = [freed[earlier] for earlier, _ in move.after if earlier in freed]
                if move.removed:
                    np.copyto(line, _latest(operands, move.since_s, scratch, np.empty_like(scratch)))
                    if since:
                        freed[move.step] = np.maximum.reduce(since)
                    continue
                ready = _latest(_unlike(operands, busy), move.since_s, line, scratch)
                for row in since:
                    ready = np.maximum(ready, row, out=line)
                if move.spans is not None:
                    ready = _fitted(ready, takes, move.spans, move.likely_s)
                np.add(ready, takes, out=line)
            if move.floored:
                np.maximum(line, self._at_s, out=line)
            if mask is not None:
                self._pass_on(move, ends, mask, scratch)
                freed[move.step] = np.where(mask, self._at_s if move.frees else 0.0, 0.0).astype(rows.dtype)
            self._occupy(move, line, mask, free)

    def _pass_on(self, move: Move, ends: Rows, mask: NDArray[np.bool_], scratch: Rows) -> None:
        """In the rows where it is put off, the step has the time that its prerequisites allow."""
        passed = np.empty_like(scratch)
        operands = [(ends[earlier], wait_s) for earlier, wait_s in move.after]
        np.copyto(ends[move.step], _latest(operands, move.passed_on_s, passed, scratch), where=mask)

    def _occupy(self, move: Move, line: Rows, mask: NDArray[np.bool_] | None, free: list[Rows | None]) -> None:
        """The step's people are free again when it ends; where it is put off, when they were before, but not for what
        follows it before now (see `freeing`)."""
        for seat in move.people:
            before = free[seat]
            if move.started_s is None and mask is None:
                free[seat] = line
                continue
            known = np.full_like(line, self._free_s[seat]) if before is None else before
            later = np.maximum(known, line)
            free[seat] = (
                later
                if mask is None
                else np.where(mask, np.maximum(known, line.dtype.type(self._at_s if move.frees else 0)), later)
            )


def _unlike(operands: list[tuple[Rows, float]], more: list[tuple[Rows, float]]) -> list[tuple[Rows, float]]:
    """Both lists, without what is in them twice: a step often follows another by its task and by its person."""
    for row, wait_s in more:
        if not any(wait_s <= other_s and np.may_share_memory(row, other) for other, other_s in operands):
            operands.append((row, wait_s))
    return operands


def _latest(operands: Sequence[tuple[Rows, float]], since_s: float, out: Rows, scratch: Rows) -> Rows:
    """The latest of these rows plus their waits, and of `since_s`, by row. The answer may be one of the operands."""
    if not operands:
        out.fill(since_s)
        return out
    (found, wait_s), *others = operands
    if wait_s:
        found = np.add(found, wait_s, out=out)
    for row, more_s in others:
        found = np.maximum(found, np.add(row, more_s, out=scratch) if more_s else row, out=out)
    return np.maximum(found, since_s, out=out) if since_s > 0 else found


def _fitted(ready: Rows, takes: Rows, spans: Sequence[Span], likely_s: float | None) -> Rows:
    """The first moment from `ready` on at which the whole of `takes` lies in one span; where there is none, the same of
    `likely_s`; else `ready`."""
    first = np.full_like(ready, np.inf)
    earliest, latest = ready.min(initial=np.inf), np.inf
    for span in spans:
        if span.closes_s < earliest or span.opens_s >= latest:
            continue  # It has closed in every row, or each row has found an opening that is no later.
        opens = np.maximum(ready, span.opens_s)
        np.minimum(first, np.where(opens + takes <= span.closes_s, opens, np.inf), out=first)
        latest = first.max(initial=0)
    missed = np.isinf(first)
    if likely_s is not None and missed.any():
        first[missed] = _fitted(ready[missed], np.full_like(ready[missed], likely_s), spans, None)
    return np.where(np.isinf(first), ready, first)
