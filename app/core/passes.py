"""The forward and backward pass: plan, projection and float, in whole seconds. It decides nothing.

Formulas: the critical path method (forward pass, backward pass, total float) as in Hillier and Lieberman,
*Introduction to Operations Research*, with windows and each person's list added as DEVELOPERS.md defines them.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import compress, filterfalse

from app.core.network import Network
from app.core.procedure import Span


@dataclass(frozen=True, slots=True)
class Timeline:
    """Start and finish of each step, by step number; `None` for a step that is not in. All in elapsed seconds.

    `end_s` is the latest finish of the nominal and added steps that are in, 0 if there are none.
    `misses` numbers the open steps whose window has no opening left that they fit.
    """

    start_s: tuple[int | None, ...]
    finish_s: tuple[int | None, ...]
    end_s: int
    misses: frozenset[int] = frozenset()

    def times(self, step: int) -> tuple[int, int]:
        """(start, finish) of a step that is in. Raises KeyError if it is not."""
        start, finish = self.start_s[step], self.finish_s[step]
        if start is None or finish is None:
            raise KeyError(step)
        return start, finish


@dataclass(frozen=True, slots=True)
class Facts:
    """What has happened, by step number.

    Attributes:
        done: actual finish. started: recorded start, of open and of done steps.
        removed: put off or not needed: it takes no time and nobody, and passes on what it waited for.
        floor_s: a step here starts no earlier: work taken during the run cannot begin before it was taken.
        removed_s: since when a removed step is out. freed_s: a step that waited for one of those starts no earlier
            than that (see `freeing`).
    """

    done: Mapping[int, int] = field(default_factory=dict)
    started: Mapping[int, int] = field(default_factory=dict)
    removed: frozenset[int] = frozenset()
    floor_s: Mapping[int, int] = field(default_factory=dict)
    removed_s: Mapping[int, int] = field(default_factory=dict)
    freed_s: Mapping[int, int] = field(default_factory=dict)


NOTHING_YET = Facts()


def fit(start_s: int, takes_s: int, spans: Sequence[Span]) -> int | None:
    """The first moment from `start_s` on at which the whole of `takes_s` lies in one span; None if there is none."""
    return min(
        (max(start_s, span.opens_s) for span in spans if max(start_s, span.opens_s) + takes_s <= span.closes_s),
        default=None,
    )


def fit_back(start_s: int, takes_s: int, spans: Sequence[Span]) -> int | None:
    """The last moment up to `start_s` at which the whole of `takes_s` lies in one span; None if there is none."""
    return max(
        (
            min(start_s, span.closes_s - takes_s)
            for span in spans
            if span.opens_s <= min(start_s, span.closes_s - takes_s)
        ),
        default=None,
    )


def plan(network: Network) -> Timeline:
    """The nominal timeline: every step as early as its prerequisites, its people and its window allow."""
    return project(network, NOTHING_YET, 0)


def project(network: Network, facts: Facts, at_s: int) -> Timeline:
    """When each open step will start and finish, from what is known at `at_s`.

    A done step keeps its finish. An open step starts at the latest of: its earliest start, each prerequisite's
    finish plus wait, the finish of its people's open steps before it, and its people's latest actual finish;
    then at the first moment of its window where it fits. A recorded start stands in place of that. It finishes at
    the later of now and start plus duration. A step for which no opening is left keeps the start it would have
    without a window and is reported in `misses`.
    """
    start: list[int | None] = [None] * len(network.steps)
    finish: list[int | None] = [None] * len(network.steps)
    all_in = len(network.order) == len(network.steps)
    for step in facts.done if all_in else set(network.order).intersection(facts.done):
        finish[step] = facts.done[step]
    bounds_s = _bounds(network, facts)
    misses = _walk(network, facts, at_s, bounds_s, start, finish)
    _actual_starts(network, facts, bounds_s, start, finish)
    return Timeline(tuple(start), tuple(finish), _end(network, facts, finish), frozenset(misses))


def _walk(
    network: Network,
    facts: Facts,
    at_s: int,
    bounds_s: Sequence[int],
    start: list[int | None],
    finish: list[int | None],
) -> list[int]:
    """Fill in start and finish of the open and removed steps; returns the steps for which no opening is left.

    Every screen waits for this loop, so it binds names once and compares in place of `max`.
    """
    removed, started = facts.removed, facts.started
    before, people, takes_s, spans = network.before, network.people, network.takes_s, network.spans
    free, misses = latest_actual(network, facts), []
    for step in filterfalse(facts.done.__contains__, network.order) if facts.done else network.order:
        ready = bounds_s[step]
        for earlier, wait_s in before[step]:
            ends = finish[earlier]
            if ends is not None and ends + wait_s > ready:
                ready = ends + wait_s
        if removed and step in removed:
            start[step] = finish[step] = ready
            continue
        for person in people[step]:
            if free[person] > ready:
                ready = free[person]
        if started and step in started:
            ready = started[step]
        elif spans[step] is not None:
            ready, fits = _moved(ready, takes_s[step], spans[step] or ())
            if not fits:
                misses.append(step)
        start[step] = ready
        ends = ready + takes_s[step]
        finish[step] = ends = ends if ends > at_s else at_s
        for person in people[step]:
            if ends > free[person]:
                free[person] = ends
    return misses


def _bounds(network: Network, facts: Facts) -> list[int]:
    """What a step's own bounds allow: its earliest start, when it was taken or freed; 0 for what passes a wait on."""
    bounds = list(network.not_before_s)
    for step, freed_s in facts.freed_s.items():
        bounds[step] = max(bounds[step], freed_s)
    for step, floor_s in facts.floor_s.items():
        bounds[step] = max(bounds[step], floor_s)
    for step in facts.removed:
        bounds[step] = 0
    return bounds


def _moved(ready_s: int, takes_s: int, spans: Sequence[Span]) -> tuple[int, bool]:
    """The first moment from `ready_s` on at which it fits its window, or `ready_s`; and whether it does fit."""
    moved = fit(ready_s, takes_s, spans)
    return (ready_s, False) if moved is None else (moved, True)


def latest_actual(network: Network, facts: Facts) -> list[int]:
    """Each person's latest actual finish, 0 if none yet."""
    latest = [0] * len(network.crew)
    people = network.people
    for step, finished in facts.done.items():
        for person in people[step]:
            if finished > latest[person]:
                latest[person] = finished
    return latest


def _actual_starts(
    network: Network,
    facts: Facts,
    bounds_s: Sequence[int],
    start: list[int | None],
    finish: Sequence[int | None],
) -> None:
    """A done step's start: the recorded one, else the latest of what it waited for and its people's finish before."""
    done, started, before, people = facts.done, facts.started, network.before, network.people
    latest = [0] * len(network.crew)
    for step in sorted(sorted(done), key=done.__getitem__):
        finished = done[step]
        if step in started:
            start[step] = min(started[step], finished)
        elif finish[step] is not None:
            ready = bounds_s[step]
            for earlier, wait_s in before[step]:
                ends = finish[earlier]
                if ends is not None and ends + wait_s > ready:
                    ready = ends + wait_s
            for person in people[step]:
                if latest[person] > ready:
                    ready = latest[person]
            start[step] = ready if ready < finished else finished
        for person in people[step]:
            latest[person] = finished


def _end(network: Network, facts: Facts, finish: Sequence[int | None]) -> int:
    ends = list(finish)
    for step in facts.removed:
        ends[step] = None
    return max(filter(None, compress(ends, network.counted)), default=0)


@dataclass(frozen=True, slots=True)
class Latest:
    """Late start and late finish of each step by number, elapsed seconds; None for a step that is not in."""

    start_s: tuple[int | None, ...]
    finish_s: tuple[int | None, ...]

    def float_s(self, timeline: Timeline, step: int) -> int:
        """How much the step may slip before the end moves: late start minus start. Raises KeyError if not in."""
        late = self.start_s[step]
        if late is None:
            raise KeyError(step)
        return late - timeline.times(step)[0]


def backward(network: Network, timeline: Timeline, facts: Facts = NOTHING_YET) -> Latest:
    """The backward pass from the timeline's end: how late each step may start and finish without moving it.

    late finish = the least over what follows of (late start − wait), the end where nothing follows;
    late start = late finish − duration, moved back to the last moment of its window where it fits, late finish
    with it. What is done has no float to use and keeps its times. No float is below 0: what ends after the end, being
    optional or put off, is held to its own finish, and a recorded start holds nobody back any more.
    """
    count = len(network.steps)
    late = [max(timeline.end_s, ends or 0) for ends in timeline.finish_s]
    late_start: list[int | None] = [None] * count
    late_finish: list[int | None] = [None] * count
    previous = _previous_open(network, facts)
    for step in reversed(network.order):
        starts, ends = timeline.times(step)
        if step in facts.done:
            late_start[step], late_finish[step] = starts, ends
            continue
        takes = ends - starts
        latest_start = late[step] - takes
        spans = network.spans[step]
        fixed = step in facts.started or step in facts.removed or step in timeline.misses
        if spans is not None and not fixed:
            moved = fit_back(latest_start, takes, spans)
            latest_start = latest_start if moved is None else max(starts, moved)
        late_start[step], late_finish[step] = latest_start, latest_start + takes
        if step in facts.started and step not in facts.removed:
            continue
        for earlier, wait_s in network.before[step]:
            late[earlier] = min(late[earlier], latest_start - wait_s)
        for earlier in previous[step]:
            late[earlier] = min(late[earlier], latest_start)
    return Latest(tuple(late_start), tuple(late_finish))


def _previous_open(network: Network, facts: Facts) -> list[list[int]]:
    """For each step, the open steps just before it in its people's lists; those that one overtook too."""
    previous: list[list[int]] = [[] for _ in network.steps]
    for one_list in network.lists:
        before: list[int] = []
        for step in one_list:
            if step not in facts.done and step not in facts.removed:
                previous[step].extend(before)
                before = [*before, step] if step in facts.started else [step]
    return previous
