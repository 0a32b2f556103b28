"""Supplies: readings, rate, time to reserve, and a small chart of each gauge. It carries nothing out."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.core.limits import SupplyState
from app.core.procedure import Designator
from app.core.situation import Situation
from app.core.supplies import MOST_READINGS, Line
from app.core.times import clock, duration
from app.core.watch import Reading
from app.web.keys import NewKey

TOP, BOTTOM = 10.0, 62.0
"""Of a drawing 72 px high; what is drawn lies between them, in px from its top."""
LEAST_SPAN_S = 600
"""A chart shows at least so much time, so that two readings in a minute are no cliff. Our own choice, no source."""
MOST_AHEAD = 6
"""A supply that lasts very long would press its readings into one corner of the chart. Our own choice, no source."""
READINGS_SHOWN = 10


@dataclass(frozen=True, slots=True)
class Spot:
    """A reading: per cent of the width, px from the top, and the same in words."""

    x: float
    y: float
    label: str


@dataclass(frozen=True, slots=True)
class GaugeChart:
    """x in per cent of the width, y in px. `line`: x1, y1, x2, y2 of the fitted line; None without one.

    The axis runs from `begins` to `ends`.
    """

    spots: tuple[Spot, ...]
    line: tuple[float, float, float, float] | None
    reserve_y: float
    now_x: float
    begins: str
    ends: str
    words: str


@dataclass(frozen=True, slots=True)
class ReadingRow:
    seq: int
    at: str
    value: str
    anew: bool
    key: str


@dataclass(frozen=True, slots=True)
class SupplyRow:
    """One gauge.

    Attributes:
        left: a figure's name, empty where no time to reserve is known; `why_not` says why.
        spent: the last reading is at the reserve, or below it.
        rose: a sentence, where the last reading is far above the one before.
    """

    name: str
    person: Designator
    title: str
    unit: str
    reserve: str
    last: str
    rate: str
    reaches: str
    left: str
    why_not: str
    spent: bool
    rose: str
    sets_limit: bool
    chart: GaugeChart | None
    readings: tuple[ReadingRow, ...]
    id: str
    key: str


@dataclass(frozen=True, slots=True)
class Supplies:
    rows: tuple[SupplyRow, ...]


def supplies(situation: Situation, person: Designator | None, new_key: NewKey) -> Supplies:
    """For one person's list: that person's own gauges, and those that are nobody's."""
    return Supplies(
        tuple(
            _row(situation, state, place, new_key)
            for place, state in enumerate(situation.gauges)
            if person is None or state.person in (person, "")
        )
    )


def _row(situation: Situation, state: SupplyState, place: int, new_key: NewKey) -> SupplyRow:
    limit, until_s = situation.limit, state.left.until_s
    sets = limit is not None and (limit.supply, limit.person) == (state.supply.name, state.person)
    return SupplyRow(
        name=state.supply.name,
        person=state.person,
        title=f"{state.person} {state.supply.name}".strip(),
        unit=state.supply.unit,
        reserve=f"{state.supply.reserve:g} {state.supply.unit}",
        last=_last_words(state),
        rate=rate_words(state.fitted, state.supply.unit),
        reaches="" if until_s is None else clock(int(until_s)),
        left="" if until_s is None else supply_fig(state),
        why_not=state.left.why_not or "",
        spent=bool(state.readings) and state.readings[-1].value <= state.supply.reserve,
        rose=_rose_words(state),
        sets_limit=sets,
        chart=gauge_chart(state, situation.at_s) if state.readings else None,
        readings=tuple(_reading(each, state, new_key) for each in reversed(state.readings[-READINGS_SHOWN:])),
        id=f"gauge-now-{place}",
        key=new_key(),
    )


def _reading(reading: Reading, state: SupplyState, new_key: NewKey) -> ReadingRow:
    value = f"{reading.value:g} {state.supply.unit}"
    return ReadingRow(reading.seq, clock(reading.at_s), value, reading.anew, new_key())


def _last_words(state: SupplyState) -> str:
    if not state.readings:
        return "no reading yet"
    last = state.readings[-1]
    return f"{last.value:g} {state.supply.unit} at {clock(last.at_s)}"


def _rose_words(state: SupplyState) -> str:
    if not state.rise:
        return ""
    rise = f"{state.rise:.3g} {state.supply.unit}".strip()
    asked = "If it was exchanged or filled, strike the reading out and enter it so."
    return f"The last reading is {rise} above the one before. {asked}"


def rate_words(fitted: Line | None, unit: str) -> str:
    """``falls 6.1 % an hour``; empty without a line."""
    if fitted is None:
        return ""
    an_hour = fitted.slope * 3600
    if f"{abs(an_hour):.3g}" == "0":
        return "does not change"
    return f"{'falls' if an_hour < 0 else 'rises'} {abs(an_hour):.3g} {unit} an hour"


def supply_fig(state: SupplyState) -> str:
    return f"supply-{state.supply.name}-{state.person}"


def supply_figures(situation: Situation) -> dict[str, str]:
    """``in 2h 10m`` or ``5m ago``: how long until each gauge is at its reserve."""
    found = {}
    for state in situation.gauges:
        if state.left.until_s is not None:
            left_s = int(state.left.until_s) - situation.at_s
            found[supply_fig(state)] = f"in {duration(left_s)}" if left_s >= 0 else f"{duration(-left_s)} ago"
    return found


# The chart


def gauge_chart(state: SupplyState, at_s: int) -> GaugeChart:
    """Readings, the line through them as far as the reserve, the reserve, and now. Nothing drawn is cut off or bent.

    It looks ahead to the time of the reserve, but no more than MOST_AHEAD times as far as it looks back.
    """
    begins_s = min(state.readings[0].at_s, at_s - LEAST_SPAN_S)
    until_s = at_s if state.left.until_s is None else state.left.until_s
    ends_s = max(at_s, min(int(until_s), at_s + MOST_AHEAD * (at_s - begins_s)))
    ends = None if state.fitted is None else _line_ends(state, state.fitted, ends_s)
    values = [*(reading.value for reading in state.readings), *(value for _, value in ends or ())]
    across = _Scale(begins_s, ends_s, 0, 100)
    down = _Scale(max(*values, state.supply.reserve), min(*values, state.supply.reserve), TOP, BOTTOM)
    return GaugeChart(
        spots=tuple(_spot(reading, state.supply.unit, across, down) for reading in state.readings),
        line=None if ends is None else _line(ends, across, down),
        reserve_y=down.at(state.supply.reserve),
        now_x=across.at(at_s),
        begins=clock(begins_s),
        ends=clock(ends_s),
        words=_chart_words(state),
    )


@dataclass(frozen=True, slots=True)
class _Scale:
    """From a value to a place between `low` and `high`; the middle where all values are the same."""

    first: float
    last: float
    low: float
    high: float

    def at(self, value: float) -> float:
        if self.first == self.last:
            return (self.low + self.high) / 2
        return round(self.low + (value - self.first) / (self.last - self.first) * (self.high - self.low), 2)


def _spot(reading: Reading, unit: str, across: _Scale, down: _Scale) -> Spot:
    return Spot(across.at(reading.at_s), down.at(reading.value), f"{clock(reading.at_s)}: {reading.value:g} {unit}")


LineEnds = tuple[tuple[float, float], tuple[float, float]]
"""(elapsed seconds, value) where the drawn line begins and where it ends."""


def _line_ends(state: SupplyState, fitted: Line, ends_s: int) -> LineEnds:
    """From the first reading that it goes through to the reserve, or to the edge of the chart if that comes first."""
    through = state.readings[-MOST_READINGS:]
    from_s, to_s = through[0].at_s, float(ends_s)
    reaches_s = fitted.reaches_s(state.supply.reserve)
    if reaches_s is not None and through[-1].at_s <= reaches_s < to_s:
        to_s = reaches_s
    return (from_s, fitted.at(from_s)), (to_s, fitted.at(to_s))


def _line(ends: LineEnds, across: _Scale, down: _Scale) -> tuple[float, float, float, float]:
    (from_s, begins), (to_s, finishes) = ends
    return across.at(from_s), down.at(begins), across.at(to_s), down.at(finishes)


def _chart_words(state: SupplyState) -> str:
    told: Sequence[Reading] = state.readings[-READINGS_SHOWN:]
    values = ", ".join(f"{reading.value:g} at {clock(reading.at_s)}" for reading in told)
    rate = rate_words(state.fitted, state.supply.unit)
    until_s = state.left.until_s
    reserve = f"reserve {state.supply.reserve:g}" + ("" if until_s is None else f" at {clock(int(until_s))}")
    parts = [f"{state.person} {state.supply.name}, {state.supply.unit}: {values}".strip(), rate, reserve]
    return "; ".join(part for part in parts if part)
