"""The lead over elapsed time as numbers for SVG: what was, is projected, and may be. It draws nothing."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.core.lead_so_far import LeadPoint, changes, point_of
from app.core.situation import Situation
from app.core.times import clock_short
from app.web.charts import Axis, Box, axis
from app.web.labels import LINE_PX, cut, hang, share, share_of, spread
from app.web.views.figures import lead
from app.web.views.lead_numbers import Numbers, Times, numbers, sentence
from app.web.views.lead_plane import Dot, GridLine, Hour, Plane, grid, heights, hours

if TYPE_CHECKING:
    from app.core.forecast import Forecast

HEAD_PX, FOOT_PX, BAND_PX = 6, 20, 24
NAME_PX = 14
"""From the end of a line to its name."""
NAMED_PEOPLE = 6
"""With more people the names at the ends of the lines would hide them; then the key below the chart names them."""
DASHES = ("", "7 3", "2 3", "14 4", "8 3 2 3", "5 5", "14 3 2 3 2 3", "1 5", "20 3 5 3", "6 2 1 2 1 2", "10 9", "3 8")
"""One pattern a person, as different as twelve can be; the first is solid and told from the team's by its width."""


@dataclass(frozen=True, slots=True)
class Trace:
    """The lead so far of the team or of one person, through `points` in SVG's form."""

    who: str
    points: str
    dash: str
    look: str


@dataclass(frozen=True, slots=True)
class Name:
    """A trace's name beside its end: `leader` leads there from the trace's end, in pixels from `x`."""

    text: str
    x: float
    leader: str
    text_x: int
    text_y: float
    anchor: str
    look: str


@dataclass(frozen=True, slots=True)
class Mark:
    """A vertical line from `top` down, with its words beside its head."""

    look: str
    x: float
    top: int
    label: str
    anchor: str
    dx: int


@dataclass(frozen=True, slots=True)
class Ahead:
    """What lies ahead: the projection to `finish`; the fan of the forecast as two polygons, and its `half`."""

    projection: str
    finish: Dot
    wide: str
    narrow: str
    half: Dot | None


@dataclass(frozen=True, slots=True)
class Band:
    """One window: its name over its openings."""

    name: str
    y: int
    boxes: tuple[Box, ...]


@dataclass(frozen=True, slots=True)
class KeyRow:
    """What a line or an area means. `look` is its class."""

    look: str
    dash: str
    words: str


@dataclass(frozen=True, slots=True)
class LeadChart:
    words: str
    height: int
    top: int
    bottom: int
    tone: str
    grid: tuple[GridLine, ...]
    hours: tuple[Hour, ...]
    bands: tuple[Band, ...]
    traces: tuple[Trace, ...]
    names: tuple[Name, ...]
    marks: tuple[Mark, ...]
    ahead: Ahead | None
    key: tuple[KeyRow, ...]
    numbers: Numbers


def lead_chart(
    situation: Situation,
    points: Sequence[LeadPoint],
    forecast: "Forecast | None",
    turn_back_s: int | None,
    limit_s: int | None,
) -> LeadChart:
    """The chart at `situation.at_s`.

    Args:
        points: the samples so far; the situation itself stands in place of those from its own second on.
        forecast: None when nothing is left to forecast. limit_s: what ends the run first; None without a limit.
    """
    now = point_of(situation)
    rows = changes([*(point for point in points if point.at_s < now.at_s), now])
    times = _times(situation, turn_back_s, limit_s)
    latest_s = None if forecast is None else forecast.team.nine_tenths_s
    across = axis(times.plan_s, times.finish_s, now.at_s, limit_s, latest_s)
    marks = _marks(across, now.at_s, times)
    low_s, high_s, step_s = heights(_leads(rows, forecast, times))
    plane = Plane(across, low_s, high_s, step_s, max(mark.top for mark in marks) + LINE_PX + HEAD_PX)
    traces = _traces(situation, plane, rows)
    bands = _bands(situation, plane)
    bottom = plane.bottom + BAND_PX * len(bands)
    return LeadChart(
        words=sentence(situation, forecast, times),
        height=bottom + FOOT_PX,
        top=plane.top,
        bottom=bottom,
        tone=_tone(situation, now.team_s),
        grid=grid(plane),
        hours=hours(across),
        bands=bands,
        traces=traces,
        names=_names(plane, traces, now),
        marks=marks,
        ahead=None if times.over else _ahead(plane, now, forecast, times),
        key=_key(situation, traces, now, forecast, times),
        numbers=numbers(situation, rows, forecast, times),
    )


def _times(situation: Situation, turn_back_s: int | None, limit_s: int | None) -> Times:
    network = situation.network
    left = any(network.nominal[step] and situation.is_open(step) for step in range(len(network.steps)))
    name = situation.limit.words if situation.limit else "limit"
    return Times(situation.projection.end_s, not left, situation.plan.end_s, turn_back_s, limit_s, name)


def _tone(situation: Situation, lead_s: int) -> str:
    return lead(lead_s, situation.procedure.on_plan_within_s).tone


# Scales


def _leads(rows: Sequence[LeadPoint], forecast: "Forecast | None", times: Times) -> list[int]:
    """Every lead that is drawn."""
    found = [lead_s for row in rows for lead_s in (row.team_s, *row.people)]
    if forecast is not None and not times.over:
        found += [times.plan_s - forecast.team.tenth_s, times.plan_s - forecast.team.nine_tenths_s]
    return found


# What is drawn


def _marks(across: Axis, at_s: int, times: Times) -> tuple[Mark, ...]:
    found = [("limit", times.limit_name, times.limit_s), ("turning", "turn back by", times.turn_back_s)]
    found += [("plan", "plan finish", times.plan_s), ("now", "now", at_s)]
    lines = [
        (look, across.x(at), f"{what} {clock_short(at)}") for look, what, at in found if at is not None and at >= 0
    ]
    hung = hang([(x, label) for _, x, label in lines])
    return tuple(
        Mark(look, x, HEAD_PX + LINE_PX * place.row, label, place.anchor, 5 if place.anchor == "start" else -5)
        for (look, x, label), place in zip(lines, hung, strict=True)
    )


def _traces(situation: Situation, plane: Plane, rows: Sequence[LeadPoint]) -> tuple[Trace, ...]:
    """Each person's, and the team's last, so that it lies on top."""
    now = rows[-1]
    people = [
        Trace(
            who,
            _course(plane, [(row.at_s, row.people[seat]) for row in rows]),
            DASHES[seat % len(DASHES)],
            f"person {_tone(situation, now.people[seat])}",
        )
        for seat, who in enumerate(situation.network.crew)
    ]
    team = _course(plane, [(row.at_s, row.team_s) for row in rows])
    return (*people, Trace("team", team, "", f"team {_tone(situation, now.team_s)}"))


def _course(plane: Plane, pairs: Sequence[tuple[int, int]]) -> str:
    """Only where this one lead turns: the line is the same, and the page smaller."""
    turns = changes([LeadPoint(at_s, lead_s, ()) for at_s, lead_s in pairs])
    return plane.points((point.at_s, point.team_s) for point in turns)


def _ahead(plane: Plane, now: LeadPoint, forecast: "Forecast | None", times: Times) -> Ahead:
    here = (now.at_s, now.team_s)

    def finish(at_s: int) -> tuple[int, int]:
        return at_s, times.plan_s - at_s

    wide = narrow = ""
    if forecast is not None:
        team = forecast.team
        wide = plane.points([here, finish(team.tenth_s), finish(team.nine_tenths_s)])
        narrow = plane.points([here, finish(team.quarter_s), finish(team.three_quarters_s)])
    return Ahead(
        projection=plane.points([here, finish(times.finish_s)]),
        finish=plane.dot(*finish(times.finish_s)),
        wide=wide,
        narrow=narrow,
        half=None if forecast is None else plane.dot(*finish(forecast.team.half_s)),
    )


def _bands(situation: Situation, plane: Plane) -> tuple[Band, ...]:
    across = plane.across
    return tuple(
        Band(
            cut(window.name, 100),
            plane.bottom + BAND_PX * place,
            tuple(
                across.box(span.opens_s, min(span.closes_s, across.end_s), window.name, "window")
                for span in window.spans
                if span.opens_s < across.end_s
            ),
        )
        for place, window in enumerate(situation.procedure.windows)
    )


def _names(plane: Plane, traces: Sequence[Trace], now: LeadPoint) -> tuple[Name, ...]:
    """Beside the ends of the lines, to the right where the longest fits; of those at one height the team's is first."""
    ends = [(traces[-1], plane.y(now.team_s))]
    if len(now.people) <= NAMED_PEOPLE:
        ends += [(trace, plane.y(lead_s)) for trace, lead_s in zip(traces, now.people, strict=False)]
    x = plane.across.x(now.at_s)
    right = x <= 50 or x + max(share(trace.who) for trace, _ in ends) + share_of(NAME_PX) <= 100
    sign, anchor, room = (1, "start", 100 - x) if right else (-1, "end", x)
    placed = spread([end + 4 for _, end in ends], plane.top + 12, plane.bottom - 4)
    return tuple(
        Name(
            text=cut(trace.who, room - share_of(NAME_PX)),
            x=x,
            leader=f"0,{end:g} {sign * (NAME_PX - 3)},{y - 4:g}",
            text_x=sign * NAME_PX,
            text_y=y,
            anchor=anchor,
            look=trace.look,
        )
        for (trace, end), y in zip(ends, placed, strict=True)
    )


def _key(
    situation: Situation, traces: Sequence[Trace], now: LeadPoint, forecast: "Forecast | None", times: Times
) -> tuple[KeyRow, ...]:
    within = situation.procedure.on_plan_within_s
    rows = [KeyRow(traces[-1].look, "", f"team, {lead(now.team_s, within).words}")]
    if len(now.people) > NAMED_PEOPLE:
        rows += [
            KeyRow(trace.look, trace.dash, f"{trace.who}, {lead(lead_s, within).words}")
            for trace, lead_s in zip(traces, now.people, strict=False)
        ]
    if not times.over:
        rows.append(KeyRow("projection", "", f"projected finish {clock_short(times.finish_s)}"))
    if forecast is not None and not times.over:
        team = forecast.team
        rows += [
            KeyRow("half", "", f"half of forecasts by {clock_short(team.half_s)}"),
            KeyRow("narrow", "", f"middle half: {clock_short(team.quarter_s)} to {clock_short(team.three_quarters_s)}"),
            KeyRow("wide", "", f"eight in ten: {clock_short(team.tenth_s)} to {clock_short(team.nine_tenths_s)}"),
        ]
    return tuple(rows)
