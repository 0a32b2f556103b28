"""The projection with uncertainty: many draws of how long each open step takes, walked through the network at once.

It owns the figures that are shown of them. It has no randomness of its own: the generator is passed in, and the same
seed and the same state give the same forecast.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from app.core.draws import Floats, Levels, Points, drawn, levels, points, remainder
from app.core.kernel import Kernel, Rows
from app.core.paces import Work, paces
from app.core.passes import Facts, fit
from app.core.procedure import Designator, Span, Takes, TaskId
from app.core.situation import Situation, StepState
from app.core.turn_back import limit_s

DRAWS = 10_000
"""With so many the chance shown is right within one per cent, two times in three at worst (binomial, 50 %)."""

SHOWN = (0.10, 0.25, 0.50, 0.75, 0.90)

_ROUNDING_S = 0.125
"""More than float32 loses when a duration is taken off a finish again, up to 12 days."""


@dataclass(frozen=True, slots=True)
class Spread:
    """When something will be finished, elapsed seconds: the 10th, 25th, 50th, 75th and 90th percentile of the draws.

    `chance` is that of finishing by the limit, in whole per cent from 1 to 99; None without a limit.
    """

    tenth_s: int
    quarter_s: int
    half_s: int
    three_quarters_s: int
    nine_tenths_s: int
    chance: int | None


@dataclass(frozen=True, slots=True)
class WindowChance:
    """The chance, 1 to 99 per cent, that what is left of `task` in an opening of `window` ends before it closes."""

    window: str
    task: TaskId
    opens_s: int
    closes_s: int
    chance: int


@dataclass(frozen=True, slots=True)
class Forecast:
    """What `draws` draws say at elapsed second `at_s`; `people` by designator, those with an open step only."""

    at_s: int
    draws: int
    team: Spread
    people: Mapping[Designator, Spread]
    windows: tuple[WindowChance, ...]


class Draws:
    """Durations of every open step, drawn once for a situation; any question is then a walk over the same draws.

    Attributes:
        durations: [K, n] seconds, float32, laid out step by step. facts: what has happened, and of each step that is
            taken to be under way the start that the projection gives it: a draw does not start it anew.

    All of a person's steps in one draw share that draw's pace; a step of several people takes the geometric mean of
    theirs, a step of nobody none. Nor does one whose duration was revised: who said it knew who works and how.
    """

    def __init__(self, situation: Situation, generator: np.random.Generator, draws: int = DRAWS) -> None:
        self.situation = situation
        self.facts = _with_starts(situation)
        self._paces = paces(generator, draws, len(situation.network.crew), works(situation))
        rows = np.zeros((len(situation.network.steps), draws), dtype=np.float32)
        shared: dict[tuple[int, ...], Floats] = {}
        for step in range(len(rows)):
            # Row by row, so that they stay in the processor's cache; drawn for done steps too, so that each step has
            # the same ones whatever is done.
            (which,) = levels(generator, 1, draws)
            if situation.is_open(step):
                people = () if situation.id(step) in situation.state.takes else situation.network.people[step]
                if people not in shared:
                    shared[people] = self._pace_of(people, draws)
                self._draw(step, which, shared[people], rows[step])
        self.durations: Rows = rows.T

    def _pace_of(self, people: tuple[int, ...], draws: int) -> Floats:
        if len(people) == 1:
            return self._paces[people[0]]
        logs = [np.log(self._paces[seat]) for seat in people]
        return np.exp(sum(logs) / len(logs)).astype(np.float32) if logs else np.ones(draws, dtype=np.float32)

    def _draw(self, step: int, which: Levels, factor: Floats, row: Floats) -> None:
        """Fill the row of one step."""
        of = points_of(self.situation, step)
        if step in self.facts.started:
            row[:] = remainder(of, which, factor, max(0, self.situation.at_s - self.facts.started[step]))
        else:
            np.multiply(drawn(of, which, row), factor, out=row)

    def kernel(self, off: frozenset[int] = frozenset()) -> Kernel:
        """The walk over these draws, in which the steps `off` may be put off."""
        return Kernel(self.situation.network, self.facts, self.situation.at_s, off, runs_over=True)


def points_of(situation: Situation, step: int) -> Points:
    """The three points of a step, from its revised estimate where there is one."""
    given = situation.network.steps[step]
    revised = situation.state.takes.get(given.id)
    return points(given.takes if revised is None else Takes(revised), situation.procedure.spread)


def _with_starts(situation: Situation) -> Facts:
    under_way = {
        step: situation.projection.times(step)[0]
        for step, state in enumerate(situation.states)
        if state is StepState.UNDER_WAY
    }
    return replace(situation.facts, started={**under_way, **situation.facts.started})


def works(situation: Situation) -> tuple[Work, ...]:
    """What was done so far, by who did it.

    What is expected is the mean of a step's distribution, so that somebody who works as drawn has pace 1; the likely
    duration is shorter than the mean and would call them slow. A step whose duration was revised tells of what was met
    there, not of a pace, and is left out.
    """
    summed: dict[tuple[int, ...], tuple[float, float, float]] = {}
    for step in situation.facts.done:
        people = situation.network.people[step]
        revised = situation.id(step) in situation.state.takes
        if people and not revised and situation.projection.start_s[step] is not None:
            of, (expected_s, actual_s, variance) = points_of(situation, step), summed.get(people, (0.0, 0.0, 0.0))
            worked_s = _worked_s(situation, step)
            summed[people] = (expected_s + of.mean_s, actual_s + worked_s, variance + of.variance)
    return tuple(Work(people, *sums) for people, sums in summed.items())


def _worked_s(situation: Situation, step: int) -> int:
    """How long a done step took. Without a recorded start it began when its window let it: a wait is no slow work."""
    start_s, finish_s = situation.projection.times(step)
    spans = situation.network.spans[step]
    if spans is not None and step not in situation.facts.started:
        opened_s = fit(start_s, situation.network.takes_s[step], spans)
        start_s = start_s if opened_s is None or opened_s > finish_s else opened_s
    return finish_s - start_s


def forecast(draws: Draws) -> Forecast | None:
    """Half by, nine in ten by, chances: of the team, each person, each window. None when nothing is left to do."""
    situation = draws.situation
    if not any(situation.is_open(step) for step in range(len(situation.network.steps))):
        return None
    kernel = draws.kernel()
    finishes = kernel.finishes(draws.durations)
    limit = limit_s(situation)
    people = {}
    for seat, person in enumerate(situation.network.crew):
        own = [step for step in situation.network.lists[seat] if situation.is_open(step)]
        if own:
            people[person] = spread_of(np.max(finishes[:, own].T, axis=0), limit)
    return Forecast(
        at_s=situation.at_s,
        draws=len(finishes),
        team=spread_of(kernel.last_finish(finishes), limit),
        people=people,
        windows=tuple(_window_chances(draws, finishes)),
    )


def spread_of(ends: Rows, limit: int | None) -> Spread:
    """Of [K] finishes in elapsed seconds."""
    shown = np.quantile(ends, SHOWN)
    tenth, quarter, half, three_quarters, nine_tenths = (round(float(each)) for each in shown)
    chance = None if limit is None else in_per_cent(float(np.mean(ends <= limit)))
    return Spread(tenth, quarter, half, three_quarters, nine_tenths, chance)


def in_per_cent(share: float) -> int:
    """Whole per cent, never 0 or 100: no forecast is sure."""
    return min(99, max(1, round(share * 100)))


def team_chance(draws: Draws, off: frozenset[int], limit: int) -> int:
    """The chance to finish by `limit` in per cent, with the steps `off` put off in every draw."""
    kernel = draws.kernel(off)
    removed = dict.fromkeys(off, np.ones(len(draws.durations), dtype=np.bool_))
    finishes = kernel.finishes(draws.durations, removed)
    return in_per_cent(float(np.mean(kernel.last_finish(finishes, removed) <= limit)))


def _window_chances(draws: Draws, finishes: Rows) -> Iterator[WindowChance]:
    """For each task and each opening, not closed yet, in which the projection puts steps of it."""
    situation = draws.situation
    groups: dict[tuple[str, TaskId, Span], list[int]] = {}
    for number, step in enumerate(situation.network.steps):
        spans = situation.network.spans[number]
        if step.within is not None and spans and situation.is_open(number):
            groups.setdefault((step.within, step.task, _opening(situation, number, spans)), []).append(number)
    for (window, task, span), steps in groups.items():
        if span.closes_s <= situation.at_s:
            continue  # It closed: the step is among the projection's misses, which are told by themselves.
        made_it = np.all([_made_it(draws, finishes, step, span.closes_s) for step in steps], axis=0)
        yield WindowChance(window, task, span.opens_s, span.closes_s, in_per_cent(float(np.mean(made_it))))


def _made_it(draws: Draws, finishes: Rows, step: int, closes_s: int) -> NDArray[np.bool_]:
    """[K]: whether the step ends by `closes_s`, and, unless it is under way, the whole of it lies in one opening."""
    ends = finishes[:, step]
    if step in draws.facts.started:
        return ends <= closes_s
    starts = ends - draws.durations[:, step] + _ROUNDING_S
    earliest = min(int(starts.min()), closes_s)
    spans = [s for s in draws.situation.network.spans[step] or () if earliest <= s.closes_s <= closes_s]
    inside: NDArray[np.bool_] = np.any([(starts >= span.opens_s) & (ends <= span.closes_s) for span in spans], axis=0)
    return inside


def _opening(situation: Situation, step: int, spans: tuple[Span, ...]) -> Span:
    """The opening in which the step starts by the projection; the last one when it is in none."""
    start_s, _ = situation.projection.times(step)
    return next((span for span in spans if span.opens_s <= start_s < span.closes_s), spans[-1])
