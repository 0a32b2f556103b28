"""How fast something runs out: the least-squares line through its readings, and the time left to its reserve.

It keeps no readings and decides nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from app.core.times import LONGEST_S

MOST_READINGS = 10
"""Of a longer row of readings the last so many make the line: a rate changes with the work. Our own, no source."""


@dataclass(frozen=True, slots=True)
class Line:
    """value = intercept + slope * elapsed seconds."""

    slope: float
    intercept: float

    def at(self, elapsed_s: float) -> float:
        """The value that the line has then."""
        return self.intercept + self.slope * elapsed_s

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
    """From (elapsed seconds, value) in order of time. At or below the reserve already: the last reading's time.

    Never before the last reading, which is above the reserve even where the line is not. None where no clock of a run
    reaches so far.
    """
    last = readings[-MOST_READINGS:]
    if not last:
        return TimeLeft(None, "no reading yet")
    if last[-1][1] <= reserve:
        return TimeLeft(last[-1][0], None)
    found = fitted(readings)
    if found is None:
        return TimeLeft(None, "one reading is no rate")
    if found.slope >= 0:
        return TimeLeft(None, "the readings don't fall")
    until_s = max((reserve - found.intercept) / found.slope, last[-1][0])
    if until_s >= LONGEST_S:
        return TimeLeft(None, "at this rate it lasts 10,000 hours or more")
    return TimeLeft(until_s, None)


def fitted(readings: Sequence[tuple[float, float]]) -> Line | None:
    """The line through the last readings, (elapsed seconds, value) in order of time; None with fewer than two times."""
    last = readings[-MOST_READINGS:]
    return line([at_s for at_s, _ in last], [value for _, value in last])
