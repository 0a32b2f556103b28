"""Putting-off options: all that no other one beats, on a board at zero, beside solvers that find one of them.

Both are pure calls timed by the processor; a solver's time is that of its call alone, its model built before, for one
aim. Boards are without windows, because the solvers' model knows none (`solving` says what it is).
"""

import statistics

from app.core.putting_off import Option, Options, options
from app.core.situation import Situation
from tests.bench.full_boards import OPTIONAL, at_zero, full, parallel_chains
from tests.bench.report import Figure, Row
from tests.bench.solving import Model, Solved, cp_sat, has_cp_sat, highs, model
from tests.bench.timing import median

AIMS = 4
"""So many of the options are asked of the solvers, spread over all of them."""


def rows() -> list[Row]:
    board = "Putting-off options"
    return [
        _row(f"{board}, {OPTIONAL} tasks, 200 steps", full(200, windows=False), budget_ms=20),
        _row(f"{board}, three parallel chains, 16 tasks, worth as duration", at_zero(parallel_chains(16))),
        _row(f"{board}, three parallel chains, 20 tasks, worth as duration", at_zero(parallel_chains(20))),
    ]


def _row(what: str, situation: Situation, budget_ms: float | None = None) -> Row:
    found = options(situation)
    took = median(lambda: options(situation), 7)
    asked = spread(found.options, AIMS)
    models = [model(situation, each.finish_s) for each in asked]
    solved = [highs(each) for each in models]
    by_highs = statistics.median(each.took_ms for each in solved)
    figures = [
        Figure("all options", took, "ms", budget_ms),
        Figure("in HiGHS for one aim", took / by_highs, "x", None if budget_ms is None else 1),
        Figure("options", len(found.options), ""),
        Figure(f"of {len(asked)} aims asked, ours of more worth than HiGHS's", worse(asked, solved), ""),
    ]
    said = f"HiGHS for one aim, median of {len(asked)}: {by_highs:.0f} ms"
    if has_cp_sat():
        figures.insert(2, _beside_cp_sat(took, models, solved, None if budget_ms is None else 1))
    return Row(what, tuple(figures), f"{said}{_said(found)}")


def spread(found: tuple[Option, ...], count: int) -> list[Option]:
    """The first, the last, and some between."""
    return list(dict.fromkeys(found[round(place * (len(found) - 1) / (count - 1))] for place in range(count)))


def worse(asked: list[Option], solved: list[Solved]) -> int:
    """How many of the options lose more worth than they must.

    Raises:
        ValueError: the solver's answer loses more than ours, so one of the two is wrong.
    """
    pairs = [(ours.worth, theirs.worth) for ours, theirs in zip(asked, solved, strict=True)]
    if any(theirs is None or ours < theirs for ours, theirs in pairs):
        raise ValueError(f"an option is better than the best there is: {pairs}")
    return sum(ours != theirs for ours, theirs in pairs)


def _beside_cp_sat(took: float, models: list[Model], solved: list[Solved], budget: float | None) -> Figure:
    again = [cp_sat(each) for each in models]
    if [each.worth for each in again] != [each.worth for each in solved]:
        raise ValueError("HiGHS and CP-SAT differ")
    theirs = statistics.median(each.took_ms for each in again)
    return Figure(f"in CP-SAT for one aim ({theirs:.0f} ms)", took / theirs, "x", budget)


def _said(found: Options) -> str:
    missing = "" if has_cp_sat() else "; CP-SAT is not installed"
    return f"{missing}; {'exact: every choice was ruled on' if found.exact else 'not exact: the best found'}"
