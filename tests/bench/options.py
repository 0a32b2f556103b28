"""Putting-off options: all that no other one beats, on a board at zero, beside solvers that find one of them.

Both are pure calls timed by the processor; a solver's time is that of its call alone, its model built before, for one
aim. Boards are without windows, because the solvers' model knows none (`solving` says what it is).
"""

import statistics
from collections.abc import Iterator

from app.core.events import TasksPutOff
from app.core.putting_off import Options, candidates, options
from app.core.situation import Situation
from app.core.suppose import suppose
from tests.bench.full_boards import OPTIONAL, at_zero, full, parallel_chains
from tests.bench.report import Figure, Measures, Row, spread
from tests.bench.solving import Model, Solved, cp_sat, has_cp_sat, highs, model
from tests.bench.timing import timed

AIMS = 4
"""The finishes of so many of the options are asked of the solvers, spread over all of them, and one aim more: the
earliest finish that there is, with all the tasks put off."""


def _board() -> Row:
    return _row(f"Putting-off options, {OPTIONAL} tasks, 200 steps", full(200, windows=False), budget_ms=20)


def _chains() -> Iterator[Row]:
    for count in (16, 20):
        what = f"Putting-off options, three parallel chains, {count} tasks, worth as duration"
        yield _row(what, at_zero(parallel_chains(count)))


def _row(what: str, situation: Situation, budget_ms: float | None = None) -> Row:
    found = options(situation)
    times = timed(lambda: options(situation), 15)
    took = statistics.median(times)
    asked = aims(situation, found)
    models = [model(situation, aim_s) for aim_s in asked]
    solved = [highs(each) for each in models]
    by_highs = statistics.median(each.took_ms for each in solved)
    figures = [
        *spread(times, p50=budget_ms, name="all options"),
        Figure("in HiGHS for one aim", took / by_highs, "x", None if budget_ms is None else 1),
        Figure("options", len(found.options), ""),
        Figure(f"of {len(asked)} aims, missed or at more worth than HiGHS's", worse(found, asked, solved), ""),
    ]
    said = f"HiGHS for one aim, median of {len(asked)}: {by_highs:.0f} ms"
    if has_cp_sat():
        figures.insert(3, _beside_cp_sat(took, models, solved, None if budget_ms is None else 1))
    return Row(what, tuple(figures), f"{said}{_said(found)}")


def aims(situation: Situation, found: Options) -> list[int]:
    """Finishes, elapsed seconds: those of the first option, the last, some between, and the earliest there is."""
    last = len(found.options) - 1
    ours = [found.options[round(place * last / (AIMS - 1))].finish_s for place in range(AIMS)]
    everything = TasksPutOff(tuple(candidates(situation)), "bench")
    return list(dict.fromkeys([*ours, suppose(situation, [everything]).projection.end_s]))


def worse(found: Options, asked: list[int], solved: list[Solved]) -> int:
    """For how many of the aims there is no option, or one that loses more worth than it must.

    Raises:
        ValueError: the solver's answer loses more than ours or is none, so one of the two is wrong.
    """
    ours = [next((each.worth for each in found.options if each.finish_s <= aim_s), None) for aim_s in asked]
    pairs = list(zip(ours, (each.worth for each in solved), strict=True))
    if any(theirs is None or (own is not None and own < theirs) for own, theirs in pairs):
        raise ValueError(f"an option is better than the best there is: {pairs}")
    return sum(own != theirs for own, theirs in pairs)


def _beside_cp_sat(took: float, models: list[Model], solved: list[Solved], budget: float | None) -> Figure:
    again = [cp_sat(each) for each in models]
    if [each.worth for each in again] != [each.worth for each in solved]:
        raise ValueError("HiGHS and CP-SAT differ")
    theirs = statistics.median(each.took_ms for each in again)
    return Figure(f"in CP-SAT for one aim ({theirs:.0f} ms)", took / theirs, "x", budget)


def _said(found: Options) -> str:
    missing = "" if has_cp_sat() else "; CP-SAT is not installed"
    return f"{missing}; {'exact: every choice was ruled on' if found.exact else 'not exact: the best found'}"


ROWS: Measures = {"20": _board, "chains": _chains}
