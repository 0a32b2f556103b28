"""The numbers of the lead chart in words: its two tables and its sentence for a screen reader. It draws nothing."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.core.lead_so_far import LeadPoint
from app.core.situation import Situation
from app.core.times import clock, lead_words
from app.web.views.figures import team_lead

if TYPE_CHECKING:
    from app.core.forecast import Forecast


@dataclass(frozen=True, slots=True)
class LeadRow:
    """The leads at one moment: the team's, then each person's in the order of the crew."""

    elapsed: str
    leads: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TimeRow:
    """A moment that the chart marks; `lead` is what finishing then would mean, or "" where nothing finishes."""

    what: str
    elapsed: str
    lead: str


@dataclass(frozen=True, slots=True)
class Numbers:
    """All that is drawn, as tables. Leads are to the second, so "on plan" means exactly so here."""

    crew: tuple[str, ...]
    leads: tuple[LeadRow, ...]
    times: tuple[TimeRow, ...]


@dataclass(frozen=True, slots=True)
class Times:
    """The moments that the chart marks, elapsed seconds; None where there is none."""

    finish_s: int
    over: bool
    plan_s: int
    turn_back_s: int | None
    limit_s: int | None
    limit_name: str = "limit"

    @property
    def finish_name(self) -> str:
        return "finished" if self.over else "projected finish"


def numbers(situation: Situation, rows: Sequence[LeadPoint], forecast: "Forecast | None", times: Times) -> Numbers:
    return Numbers(
        crew=situation.network.crew,
        leads=tuple(
            LeadRow(clock(row.at_s), tuple(lead_words(lead_s) for lead_s in (row.team_s, *row.people))) for row in rows
        ),
        times=(
            TimeRow("now", clock(situation.at_s), lead_words(situation.lead_s)),
            *_finishes(forecast, times),
            *_bounds(times),
            *_openings(situation),
        ),
    )


def _finishes(forecast: "Forecast | None", times: Times) -> list[TimeRow]:
    found = [(times.finish_name, times.finish_s)]
    if forecast is not None:
        team = forecast.team
        found += [
            ("one in ten by", team.tenth_s),
            ("a quarter by", team.quarter_s),
            ("half by", team.half_s),
            ("three quarters by", team.three_quarters_s),
            ("nine in ten by", team.nine_tenths_s),
        ]
    found.append(("plan finish", times.plan_s))
    return [TimeRow(what, clock(at_s), lead_words(times.plan_s - at_s)) for what, at_s in found]


def _bounds(times: Times) -> list[TimeRow]:
    rows = []
    if times.turn_back_s is not None:
        rows.append(TimeRow("turn back by", clock(times.turn_back_s), ""))
    if times.limit_s is not None:
        rows.append(TimeRow(times.limit_name, clock(times.limit_s), lead_words(times.plan_s - times.limit_s)))
    return rows


def _openings(situation: Situation) -> list[TimeRow]:
    return [
        TimeRow(f"{window.name} {what}", clock(at_s), "")
        for window in situation.procedure.windows
        for span in window.spans
        for what, at_s in (("opens", span.opens_s), ("closes", span.closes_s))
    ]


def sentence(situation: Situation, forecast: "Forecast | None", times: Times) -> str:
    """What the picture says, for those who do not see it."""
    parts = [
        f"Team {team_lead(situation).words} now, {clock(situation.at_s)}",
        f"{times.finish_name} {clock(times.finish_s)}",
    ]
    if forecast is not None:
        parts.append(f"half of forecasts by {clock(forecast.team.half_s)}")
        parts.append(f"nine in ten by {clock(forecast.team.nine_tenths_s)}")
    parts.append(f"plan finish {clock(times.plan_s)}")
    if times.turn_back_s is not None:
        parts.append(f"turn back by {clock(times.turn_back_s)}")
    if times.limit_s is not None:
        parts.append(f"{times.limit_name} {clock(times.limit_s)}")
    return f"{'; '.join(parts)}."
