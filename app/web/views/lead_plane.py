"""The two scales of the lead chart, elapsed and lead, with grid and hours. It knows no run.

Across, all is in per cent of the time axis (in the scaled part of the picture, in thousandths); down, in pixels. So
lines stretch with the screen and words do not.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from app.core.times import duration
from app.web.charts import Axis, Tick
from app.web.labels import share, share_of

PLOT_PX = 232
EDGE_PX = 8
"""Room in the plot above its highest and below its lowest grid line."""
ROUND_MIN = (1, 2, 5, 10, 15, 30, 60, 120, 240, 480)
"""What may lie between two grid lines, minutes; beyond, the last is doubled. Common practice, no source."""
MOST_LINES = 8
MOST_HOURS = 8


@dataclass(frozen=True, slots=True)
class GridLine:
    """`side` says on the outermost lines what their side means, a line of words further in at `side_dy` pixels."""

    y: float
    label: str
    side: str
    side_dy: int
    zero: bool


@dataclass(frozen=True, slots=True)
class Hour:
    x: float
    label: str
    anchor: str


@dataclass(frozen=True, slots=True)
class Dot:
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Plane:
    """Where a moment and a lead lie. The grid goes from `low_s` to `high_s` by `step_s`; the plot begins at `top`."""

    across: Axis
    low_s: int
    high_s: int
    step_s: int
    top: int

    @property
    def bottom(self) -> int:
        return self.top + PLOT_PX

    def y(self, lead_s: int) -> float:
        down = (self.high_s - lead_s) / (self.high_s - self.low_s)
        return round(self.top + EDGE_PX + down * (PLOT_PX - 2 * EDGE_PX), 2)

    def points(self, pairs: Iterable[tuple[int, int]]) -> str:
        """(elapsed, lead) pairs as SVG's points."""
        return " ".join(f"{self.across.x(at_s) * 10:g},{self.y(lead_s):g}" for at_s, lead_s in pairs)

    def dot(self, at_s: int, lead_s: int) -> Dot:
        return Dot(self.across.x(at_s), self.y(lead_s))


def heights(leads_s: Sequence[int]) -> tuple[int, int, int]:
    """(lowest, highest, step) of the grid in seconds: round, 0 within, from four to eight lines."""
    minutes = list(ROUND_MIN)
    while True:
        step_s = minutes.pop(0) * 60
        low = min(-1, *(lead_s // step_s for lead_s in leads_s))
        high = max(1, *(-(-lead_s // step_s) for lead_s in leads_s))
        if high - low < MOST_LINES:
            break
        if not minutes:
            minutes.append(step_s // 30)
    if (low, high) == (-1, 1):
        low, high = -2, 2
    return low * step_s, high * step_s, step_s


def grid(plane: Plane) -> tuple[GridLine, ...]:
    sides = {plane.high_s: ("ahead", 13), plane.low_s: ("behind", -13)}
    return tuple(
        GridLine(plane.y(lead_s), _length(lead_s), *sides.get(lead_s, ("", 0)), lead_s == 0)
        for lead_s in range(plane.low_s, plane.high_s + 1, plane.step_s)
    )


def _length(lead_s: int) -> str:
    return duration(lead_s).removesuffix(" 00m") if lead_s else "plan"


def hours(across: Axis) -> tuple[Hour, ...]:
    """As many as have room beside each other on the narrowest screen."""
    found: tuple[Hour, ...] = ()
    for most in range(MOST_HOURS, 0, -1):
        found = tuple(_hour(tick) for tick in across.ticks(most))
        spans = [_span(each) for each in found]
        if all(left[1] + share_of(5) <= right[0] for left, right in pairwise(spans)):
            break
    return found


def _hour(tick: Tick) -> Hour:
    """In the middle under its moment, but for one that would leave the picture on the right."""
    return Hour(tick.x, tick.label, "end" if tick.x + share(tick.label) / 2 > 100 + share_of(EDGE_PX) else "middle")


def _span(hour: Hour) -> tuple[float, float]:
    wide = share(hour.label)
    right = hour.x if hour.anchor == "end" else hour.x + wide / 2
    return right - wide, right
