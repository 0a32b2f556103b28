"""What is ahead, in one piece: forecast, options, best set and critical chain of one situation. It orders nothing."""

from collections.abc import Callable
from dataclasses import dataclass

from app.core.best_set import BestSet, best_set
from app.core.chain import Link, chain
from app.core.forecast import Draws, Forecast, forecast, team_chance
from app.core.putting_off import Option, Options, options
from app.core.situation import Situation
from app.core.suppose import suppose
from app.core.turn_back import limit_s
from app.core.what_if import Supposed

Draw = Callable[[Situation], Draws]
"""Makes the draws of a situation, always from the same seed, so that two situations are compared draw by draw."""

OPTIONS_SHOWN = 6
"""Options whose chance is worked out. Our own bound."""


@dataclass(frozen=True, slots=True)
class Ahead:
    """All of it from one set of draws.

    Attributes:
        options: the first of them (`shown`). chances: theirs to finish by the limit, per cent; None without a limit.
        best, best_chance: the best set of optional work that fits now, and the chance with it in.
    """

    forecast: Forecast | None
    options: Options
    chances: tuple[int | None, ...]
    best: BestSet | None
    best_chance: int | None
    chain: tuple[Link, ...]


@dataclass(frozen=True, slots=True)
class Outlook(Ahead):
    """What is ahead of `situation`."""

    situation: Situation


def outlook(situation: Situation, draw: Draw) -> Outlook:
    draws = draw(situation)
    found = shown(options(situation))
    best = best_set(situation)
    return Outlook(
        situation=situation,
        forecast=forecast(draws),
        options=found,
        chances=tuple(option_chance(draws, option) for option in found.options),
        best=best,
        best_chance=None if best is None else chance(suppose(situation, best.events), draw),
        chain=chain(situation),
    )


def shown(found: Options) -> Options:
    """The first options, and among them those that are the least to meet the plan and the limit."""
    wanted = {id(each) for each in (found.least("plan"), found.least("limit")) if each is not None}
    few = [each for each in found.options if id(each) in wanted]
    few += [each for each in found.options if id(each) not in wanted][: OPTIONS_SHOWN - len(few)]
    return Options(tuple(sorted(few, key=lambda each: (each.worth, each.finish_s))), found.exact, found.of)


def option_chance(draws: Draws, option: Option) -> int | None:
    """The chance to finish by the limit with the option taken, over the same draws as without it."""
    situation, limit = draws.situation, limit_s(draws.situation)
    if limit is None:
        return None
    off = frozenset(
        number
        for number, step in enumerate(situation.network.steps)
        if step.task in option.tasks and situation.is_open(number)
    )
    return team_chance(draws, off, limit)


@dataclass(frozen=True, slots=True)
class Comparison:
    """Changes that were tried, and the forecast without and with them, from the same draws; None: nothing is left."""

    supposed: Supposed
    before: Situation
    forecast_before: Forecast | None
    forecast_then: Forecast | None


def compared(situation: Situation, supposed: Supposed, draw: Draw) -> Comparison:
    return Comparison(supposed, situation, forecast(draw(situation)), forecast(draw(supposed.then)))


def chance(situation: Situation, draw: Draw) -> int | None:
    """The team's chance to finish by the limit; None without a limit, or when nothing is left."""
    limit = limit_s(situation)
    return None if limit is None else team_chance(draw(situation), frozenset(), limit)
