"""How fast something runs out: the least-squares line through its readings, and the time left to its reserve.

It keeps no readings and decides nothing. Until rounds take readings, nothing in a run feeds it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

MOST_READINGS = 10
"""Of a longer row of readings the last so many make the line: a rate changes with the work. Our own, no source."""


@dataclass(frozen=True, slots=True)
class Line:
    """value = intercept + slope * elapsed seconds."""

    slope: float
    intercept: float

    def reaches_s(self, value: float) -> float | None:
        """The elapsed seconds at which the line stands at `value`; None for a level line."""
        return None if self.slope == 0 else (value - self.intercept) / self.slope


def line(x: Sequence[float], y: Sequence[float]) -> Line | None:
    """The least-squares line of y on x, by sums about the means; None with fewer than two different x.

    Formula: slope = sum((x - mean x)(y - mean y)) / sum((x - mean x)^2), as in NIST/SEMATECH e-Handbook of Statistical
    Methods, 4.1.4.1 (from memory).

    Raises:
        ValueError: x and y differ in length.
    """
    if len(x) != len(y):
        raise ValueError("as many x as y are needed")
    if len(set(x)) < 2:
        return None
    middle_x, middle_y = sum(x) / len(x), sum(y) / len(y)
    across = sum((each - middle_x) ** 2 for each in x)
    slope = sum((a - middle_x) * (b - middle_y) for a, b in zip(x, y, strict=True)) / across
    return Line(slope, middle_y - slope * middle_x)


@dataclass(frozen=True, slots=True)
class TimeLeft:
    """`until_s`: the elapsed second at which the reserve is reached; if None, `why_not` says in words why."""

    until_s: float | None
    why_not: str | None


def time_to_reserve(readings: Sequence[tuple[float, float]], reserve: float) -> TimeLeft:
    """From (elapsed seconds, value) in order of time. At or below the reserve already: the last reading's time."""
    last = readings[-MOST_READINGS:]
    if not last:
        return TimeLeft(None, "no reading yet")
    if last[-1][1] <= reserve:
        return TimeLeft(last[-1][0], None)
    fitted = line([at_s for at_s, _ in last], [value for _, value in last])
    if fitted is None:
        return TimeLeft(None, "one reading is no rate")
    if fitted.slope >= 0:
        return TimeLeft(None, "the readings don't fall")
    return TimeLeft(fitted.reaches_s(reserve), None)
