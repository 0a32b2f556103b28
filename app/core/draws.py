"""How long a step may take: the PERT-beta distribution of its three points, and what is left of a step.

It draws from generators that are passed in, and knows no network.

Sources: the PERT-beta of mean (a + 4m + b)/6 with alpha = 1 + 4(m - a)/(b - a), beta = 1 + 4(b - m)/(b - a) is the
usual reading of Malcolm, Roseboom, Clark and Fazar, *Operations Research* 7 (1959) 646-669 (from memory). Its variance
is (mean - a)(b - mean)/7, not the classic rule of thumb ((b - a)/6)^2, which it meets only where the two happen to
agree; the forecast uses the distribution's own. The rule for what is left of a step is our own and stands in
DEVELOPERS.md.
"""

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from app.core.procedure import Takes

Floats = NDArray[np.floating[Any]]
Levels = NDArray[np.uint16]

LEVELS = 4096
"""A draw picks one of so many equally likely quantiles: (k + 1/2)/LEVELS. Finer than 10,000 draws can tell apart."""
_SPARE_BITS = 16 - (LEVELS - 1).bit_length()
_GRID = 8192
"""Points at which a distribution is tabulated, closer together at its ends."""


@dataclass(frozen=True, slots=True)
class Points:
    """Optimistic, likely and pessimistic duration, seconds, in this order."""

    low_s: float
    likely_s: float
    high_s: float

    @property
    def mean_s(self) -> float:
        return (self.low_s + 4 * self.likely_s + self.high_s) / 6

    @property
    def variance(self) -> float:
        """Of the PERT-beta distribution, square seconds."""
        return (self.mean_s - self.low_s) * (self.high_s - self.mean_s) / 7

    @property
    def mode(self) -> float:
        """Where the likely duration lies between the other two, 0 to 1."""
        width = self.high_s - self.low_s
        return 0.0 if width <= 0 else (self.likely_s - self.low_s) / width

    @property
    def overrun_s(self) -> float:
        """Mean of what is still to come once the pessimistic duration has passed."""
        return (self.high_s - self.likely_s) / 2


def points(takes: Takes, spread: tuple[float, float, float]) -> Points:
    """The three points of a duration; where only the likely one is given, `spread` says what part of it each is."""
    if takes.optimistic_s is None or takes.pessimistic_s is None:
        low, likely, high = spread
        return Points(low * takes.likely_s, likely * takes.likely_s, high * takes.likely_s)
    return Points(takes.optimistic_s, takes.likely_s, takes.pessimistic_s)


@lru_cache(maxsize=2048)
def quantiles(mode: float) -> NDArray[np.float32]:
    """[LEVELS]: the quantiles at (k + 1/2)/LEVELS of the PERT-beta distribution on 0 to 1, likely value `mode`."""
    share, below = _tabulated(mode)
    asked = (np.arange(LEVELS) + 0.5) / LEVELS
    return np.interp(asked, below, share).astype(np.float32)


@lru_cache(maxsize=256)
def _tabulated(mode: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """[_GRID] shares of the width, and how likely it is to fall below each.

    The density is summed by trapezoids between points that lie closer together at the ends; in between it is linear.
    """
    share = (1 - np.cos(np.linspace(0, math.pi, _GRID))) / 2
    density = share ** (4 * mode) * (1 - share) ** (4 - 4 * mode)
    summed = np.concatenate([[0.0], np.cumsum(np.diff(share) * (density[1:] + density[:-1]) / 2)])
    return share, summed / summed[-1]


def levels(generator: np.random.Generator, rows: int, draws: int) -> Levels:
    """[rows, draws]: which quantile each draw takes, one row a step.

    Four are cut from each 64 bits, their lowest bits dropped: NumPy is several times slower to draw small numbers.
    """
    count = rows * draws
    words = generator.integers(0, 1 << 64, size=-(-count // 4), dtype=np.uint64)
    found: Levels = words.view(np.uint16)[:count].reshape(rows, draws)
    found >>= np.uint16(_SPARE_BITS)
    return found


def drawn(of: Points, which: Levels, out: Floats | None = None) -> Floats:
    """[K] durations in seconds, float32, before pace; `out`, when given, is filled and returned."""
    found = np.empty(which.shape, dtype=np.float32) if out is None else out
    if of.high_s <= of.low_s:
        found.fill(of.likely_s)
        return found
    # Every level is in the table; without "clip" NumPy would fill a buffer first, to leave `out` alone on a fault.
    np.take(quantiles(of.mode), which, out=found, mode="clip")
    found *= np.float32(of.high_s - of.low_s)
    found += np.float32(of.low_s)
    return found


def remainder(of: Points, which: Levels, pace: Floats, lasted_s: float) -> Floats:
    """[K] whole durations, seconds, of a step that has lasted `lasted_s`, pace included: none is shorter than that.

    In each row the duration is that of the distribution times the row's pace, given that it is longer than what has
    passed; where even the pessimistic one has passed, what is left is exponential with mean `overrun_s` times the pace.
    """
    share = (which + 0.5) / LEVELS
    passed = np.clip((lasted_s / pace - of.low_s) / max(of.high_s - of.low_s, 1e-9), 0.0, 1.0)
    # The whole table is asked: the quantiles that are drawn end well before the pessimistic duration.
    shares, likelihood = _tabulated(of.mode)
    below = _interpolated(passed, shares, likelihood)
    inside = _interpolated(below + share * (1 - below), likelihood, shares)
    within = pace * (of.low_s + (of.high_s - of.low_s) * inside)
    beyond = lasted_s - pace * of.overrun_s * np.log1p(-share)
    over = lasted_s >= pace * of.high_s
    return np.maximum(np.where(over, beyond, within), lasted_s).astype(np.float32)


def _interpolated(asked: NDArray[np.float64], known: NDArray[np.float64], values: NDArray[np.float64]) -> Floats:
    """`np.interp`, asked in rising order: it then finds each place next to the last one, which is five times as quick
    in a table of this size, the sorting included."""
    rising = np.argsort(asked)
    found = np.empty_like(asked)
    found[rising] = np.interp(asked[rising], known, values)
    return found
