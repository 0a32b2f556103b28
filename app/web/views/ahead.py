"""What is ahead, in words: forecast, what putting off wins, the best set, the critical chain. It computes nothing."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.core.procedure import TaskId
from app.core.situation import Situation
from app.core.times import clock, clock_short, duration
from app.core.words import place_words
from app.web.views.desk import NewKey
from app.web.views.figures import lead, room_words

if TYPE_CHECKING:
    from app.core.forecast import Forecast, Spread
    from app.core.outlook import Outlook
    from app.core.putting_off import Option

AIMS = (("plan", "the plan's finish"), ("limit", "the limit"))


@dataclass(frozen=True, slots=True)
class WindowRow:
    title: str
    opening: str
    fig: str


@dataclass(frozen=True, slots=True)
class ForecastWords:
    """`has_chance`: there is a limit. Everything that a draw may change is a figure of `outlook_figures`."""

    draws: str
    has_chance: bool
    windows: tuple[WindowRow, ...]


@dataclass(frozen=True, slots=True)
class OptionRow:
    """What may be put off to win time. `aims` says what it is the least loss for; `place` names its figures."""

    place: int
    tasks: tuple[TaskId, ...]
    titles: tuple[str, ...]
    along: tuple[str, ...]
    worth: int
    aims: str
    exact: bool
    key: str


@dataclass(frozen=True, slots=True)
class OptionsWords:
    rows: tuple[OptionRow, ...]
    has_chance: bool
    sure: str


@dataclass(frozen=True, slots=True)
class SetWords:
    """The best set of optional work that fits."""

    tasks: tuple[TaskId, ...]
    titles: tuple[str, ...]
    places: str
    has_chance: bool
    sure: str
    key: str


@dataclass(frozen=True, slots=True)
class ChainRow:
    start: str
    finish: str
    who: str
    text: str
    step: str
    because: str
    gain: str


@dataclass(frozen=True, slots=True)
class ChainWords:
    finish: str
    rows: tuple[ChainRow, ...]
    gains: bool


@dataclass(frozen=True, slots=True)
class Ahead:
    """`forecast` is None when nothing is left to do; `best` when no two items fit together."""

    forecast: ForecastWords | None
    options: OptionsWords
    best: SetWords | None
    chain: ChainWords


def ahead(found: "Outlook", new_key: NewKey) -> Ahead:
    return Ahead(
        forecast=None if found.forecast is None else _forecast(found.situation, found.forecast),
        options=_options(found, new_key),
        best=_best(found, new_key),
        chain=_chain(found),
    )


def _forecast(situation: Situation, forecast: "Forecast") -> ForecastWords:
    windows = tuple(
        WindowRow(
            situation.procedure.task(each.task).title,
            f"{each.window} {clock_short(each.opens_s)} to {clock_short(each.closes_s)}",
            f"window-{place}",
        )
        for place, each in enumerate(forecast.windows)
    )
    return ForecastWords(f"{forecast.draws:,}", forecast.team.chance is not None, windows)


def _options(found: "Outlook", new_key: NewKey) -> OptionsWords:
    options = found.options
    rows = tuple(_option(found, place, option, new_key()) for place, option in enumerate(options.options))
    sure = f"Exact: every choice among the {options.of} tasks that can be put off was ruled on."
    if not options.exact:
        sure = (
            f"Not every choice among the {options.of} tasks that can be put off was looked at. "
            "No other beats these rows, but for those marked “best found”."
        )
    return OptionsWords(rows, any(each is not None for each in found.chances), sure if options.of > 1 else "")


def _option(found: "Outlook", place: int, option: "Option", key: str) -> OptionRow:
    titles = {task: found.situation.procedure.task(task).title for task in option.tasks}
    aims = [words for aim, words in AIMS if found.options.least(aim) is option and not _is_met(found.situation, aim)]
    return OptionRow(
        place=place,
        tasks=option.tasks,
        titles=tuple(titles[task] for task in option.tasks if task not in option.along),
        along=tuple(titles[task] for task in option.along),
        worth=option.worth,
        aims=" and ".join(aims),
        exact=option.exact,
        key=key,
    )


def _is_met(situation: Situation, aim: str) -> bool:
    """Whether nothing need be put off for it. Without a limit that one is met."""
    if aim == "plan":
        return situation.lead_s >= 0
    return situation.room_s is None or situation.room_s >= 0


def _best(found: "Outlook", new_key: NewKey) -> SetWords | None:
    best, procedure = found.best, found.situation.procedure
    if best is None:
        return None
    titles = tuple(procedure.task(task).title for task, _ in best.work)
    where = "; ".join(
        f"{procedure.task(task).title}: {', '.join(place_words(procedure, *place) for place in places)}"
        for task, places in best.work
        if places
    )
    sure = "exact: every set was tried at every place" if best.exact else "best found"
    return SetWords(tuple(task for task, _ in best.work), titles, where, found.best_chance is not None, sure, new_key())


def _chain(found: "Outlook") -> ChainWords:
    situation = found.situation
    rows = tuple(
        ChainRow(
            start=clock_short(link.start_s),
            finish=clock_short(link.finish_s),
            who=" and ".join(situation.network.steps[link.step].who) or "nobody",
            text=situation.network.steps[link.step].do,
            step=situation.id(link.step),
            because=str(link.because),
            gain=duration(link.gain_s) if link.gain_s > 0 else "",
        )
        for link in found.chain
    )
    return ChainWords(clock(situation.projection.end_s), rows, any(row.gain for row in rows))


def per_cent(chance: int | None) -> str:
    """``98 %``; the sign stands apart from the number (ISO 80000-1, from memory)."""
    return "" if chance is None else f"{chance} %"


def spread_words(spread: "Spread") -> str:
    return f"half by {clock(spread.half_s)}, nine in ten by {clock(spread.nine_tenths_s)}"


def outlook_figures(found: "Outlook | None", at_s: int) -> dict[str, str]:
    """What the draws say, by name: kept fresh by ticks as everything that changes by the second is."""
    if found is None:
        return {}
    within = found.situation.procedure.on_plan_within_s
    figures = {"forecast-age": duration(max(0, at_s - found.situation.at_s))}
    if found.forecast is not None:
        figures["chance"] = per_cent(found.forecast.team.chance)
        figures["spread"] = spread_words(found.forecast.team)
        figures |= {f"window-{place}": per_cent(each.chance) for place, each in enumerate(found.forecast.windows)}
    for person in found.situation.network.crew:
        own = None if found.forecast is None else found.forecast.people.get(person)
        figures[f"spread-{person}"] = "" if own is None else spread_words(own)
    for place, (option, chance) in enumerate(zip(found.options.options, found.chances, strict=True)):
        figures |= _option_figures(f"option-{place}", option, chance, within)
    if found.best is not None:
        figures["set-lead"] = lead(found.best.lead_after_s, within).words
        figures["set-finish"] = clock(found.best.finish_after_s)
        figures["set-chance"] = per_cent(found.best_chance)
    return figures


def _option_figures(name: str, option: "Option", chance: int | None, within: int) -> dict[str, str]:
    return {
        f"{name}-wins": duration(option.wins_s),
        f"{name}-finish": clock(option.finish_s),
        f"{name}-lead": lead(option.lead_s, within).words,
        f"{name}-room": room_words(option.room_s),
        f"{name}-chance": per_cent(chance),
    }


def outlook_signature(found: "Outlook | None") -> object:
    """What makes the Lead board look different, other than its figures."""
    if found is None:
        return None
    forecast = found.forecast
    return (
        forecast is None,
        () if forecast is None else tuple((each.task, each.opens_s) for each in forecast.windows),
        tuple((option.tasks, option.meets_plan, option.meets_limit) for option in found.options.options),
        None if found.best is None else found.best.work,
        tuple((link.step, link.because) for link in found.chain),
    )
