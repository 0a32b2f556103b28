"""How fast each person works, from what they have done: a distribution over all of them together. It draws, with a
generator that is passed in, and knows no network.

The logarithms of the paces are normal and independent before the run. A group of people's work tells of the mean of
their logarithms: log(actual / expected) is that plus noise, whose variance follows from the PERT-beta variances of the
steps. What is then known is the normal distribution of Gaussian conditioning (Rasmussen and Williams, *Gaussian
Processes for Machine Learning*, A.2; from memory). So a step of two tells of both at once and not of each twice.

The design's rule, median (30 min + actual)/(30 min + planned) and a width by planned time alone, was tried against
this: `python -m tests.bench.calibration` and DEVELOPERS.md have the figures.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from app.core.draws import Floats

SIGMA = 0.15
"""Standard deviation of the logarithm of a pace before anything is done. The design's choice, no source."""
LEAST_NOISE = 0.02
"""However sure a duration is, what was done tells a pace no closer than this: marks are heard and rounded. Our own."""


@dataclass(frozen=True, slots=True)
class Work:
    """What the same people have done together, summed over its steps.

    Attributes:
        people: seats, at least one. expected_s: the mean of the distributions. actual_s: what it took.
        variance: the sum of the distributions' variances, square seconds.
    """

    people: tuple[int, ...]
    expected_s: float
    actual_s: float
    variance: float


def known(crew: int, works: Sequence[Work]) -> tuple[Floats, Floats]:
    """Mean [P] and covariance [P, P] of the logarithms of the paces of P people."""
    precision, pull = np.eye(crew) / SIGMA**2, np.zeros(crew)
    for work in works:
        if work.expected_s <= 0:
            continue
        noise = max(work.variance / work.expected_s**2, LEAST_NOISE**2)
        share = np.zeros(crew)
        share[list(work.people)] = 1 / len(work.people)
        # The logarithm of what varies by `noise` about its mean is lower on average by half of that.
        seen = math.log(max(work.actual_s, 1.0) / work.expected_s) + noise / 2
        precision += np.outer(share, share) / noise
        pull += share * (seen / noise)
    covariance = np.linalg.inv(precision)
    return covariance @ pull, covariance


def paces(generator: np.random.Generator, draws: int, crew: int, works: Sequence[Work]) -> list[Floats]:
    """For each of the `crew` people [draws] factors, float32: 1.1 is a tenth slower than expected."""
    mean, covariance = known(crew, works)
    steps = generator.standard_normal((crew, draws), dtype=np.float32)
    logs = mean[:, None] + np.linalg.cholesky(covariance) @ steps
    return list(np.exp(logs).astype(np.float32))
