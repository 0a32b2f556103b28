"""What is said of a handful of numbers: how many, mean, standard deviation, median, quantiles. It draws nothing and
knows no run.

Sources: the variance is the corrected two-pass algorithm of Chan, Golub and LeVeque, "Algorithms for computing the
sample variance", *The American Statistician* 37 (1983) 242-247, its sums rounded once by `math.fsum`; the quantile is
type 7 of Hyndman and Fan, "Sample quantiles in statistical packages", *The American Statistician* 50 (1996) 361-365,
which is NumPy's default too. Both from memory; `tests/core/test_sample.py` has the checks against NIST and NumPy.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Sample:
    """Some finite numbers, at least one, in rising order. Made by `sample`."""

    values: tuple[float, ...]

    @property
    def n(self) -> int:
        return len(self.values)

    @property
    def mean(self) -> float:
        return mean(self.values)

    @property
    def variance(self) -> float | None:
        """Sum of the squared distances from the mean over n - 1; None for a single number, which has no spread."""
        if self.n < 2:
            return None
        middle = self.mean
        off = [value - middle for value in self.values]
        # The mean is rounded: what the distances then sum to is taken out again.
        squares = math.fsum(each * each for each in off) - math.fsum(off) ** 2 / self.n
        return max(squares, 0.0) / (self.n - 1)

    @property
    def deviation(self) -> float | None:
        """The sample standard deviation; None for a single number."""
        variance = self.variance
        return None if variance is None else math.sqrt(variance)

    @property
    def median(self) -> float:
        return self.quantile(0.5)

    def quantile(self, share: float) -> float:
        """The number below which `share` (0 to 1) of the sample lies: a straight line between the two next to it.

        Raises:
            ValueError: `share` is below 0 or above 1.
        """
        if not 0 <= share <= 1:
            raise ValueError("a share lies from 0 to 1")
        place = share * (self.n - 1)
        below = min(math.floor(place), self.n - 1)
        low, high = self.values[below], self.values[min(below + 1, self.n - 1)]
        return min(low + (place - below) * (high - low), high)


def sample(values: Iterable[float]) -> Sample | None:
    """The numbers as a sample; None where there is none, so that nobody asks for the median of nothing.

    Raises:
        ValueError: one of them is infinite or no number.
    """
    rising = tuple(sorted(float(value) for value in values))
    if not all(math.isfinite(value) for value in rising):
        raise ValueError("a sample has finite numbers only")
    return Sample(rising) if rising else None


def mean(values: Iterable[float]) -> float:
    """The mean, its sum rounded once. Raises ZeroDivisionError for no numbers at all."""
    found = tuple(values)
    return math.fsum(found) / len(found)
