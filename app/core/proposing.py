"""Better durations for the next plan: from what a plan said of a step and what it took, three points and the reason.

It reads no run (`durations` does) and writes no file.

The rule is credibility, as insurers weigh the few years of one policy against all policies (Bühlmann, "Experience
rating and credibility", *ASTIN Bulletin* 4 (1967) 199-207; from memory): n runs weigh Z = n / (n + k), the plan 1 - Z,
with k = the variance from run to run over the variance with which plans miss. Both are of logarithms, since a step
that takes long is off by a share of itself and not by seconds:

- with which plans miss: that of a pace, `paces.SIGMA` squared, as in the forecast: a crew is that much off a plan.
- from run to run: what the plan's own three points say of it, `SPREAD_RUNS` runs' worth, and what the runs show.

What is weighed is the median, so that one bad run among many changes little: log(median) = (1 - Z) log(plan's) + Z
log(runs'). The points lie about it as the plan's lie about the plan's median, farther or closer by how much more or
less the runs vary than the plan says, and so does the mean; the likely one is where (a + 4m + b)/6 is that mean. So no
run at all leaves the plan as it is, and of many it is soon only they that count. Whether a step runs over rather than
under, its skew, stays the plan's.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

from app.core.draws import LEVELS, Points, points, quantiles
from app.core.durations import HIGH, LOW, StepDurations
from app.core.paces import LEAST_NOISE, SIGMA
from app.core.procedure import Procedure, Step, Takes
from app.core.sample import Sample, sample
from app.core.times import LONGEST_S, duration

SPREAD_RUNS = 10
"""So many runs' worth is what the plan says of how much a step varies: few runs tell little of that. Our own."""
MOST_SPREAD = 1.0
"""Ten-to-ninety is then from a quarter to four times the median; what varies more is no one step. Our own bound."""
APART = 0.05
"""By so much of itself a spread has to differ before the reason tells of it. Our own."""
DEFAULT_SPREAD = Procedure("", "", ()).spread
ROUNDED = ((60, 1), (600, 5), (3600, 15))
"""Durations below so many seconds are rounded to so many; longer ones to the minute. Our own: nobody plans closer."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """What to plan for a step next time.

    Attributes:
        takes: the three points; of a step that no run tells of, those of the file as they are.
        weight: what the runs weigh, 0 to 1; the plan has the rest.
        changed: whether it says something else than the plan.
        reason: in words, so that each point that moves can be followed.
        planned_median_s: half of what the plan's three points say is below it; None where no run is weighed.
        ratio: the median of the runs over that one.
    """

    step: Step
    takes: Takes
    weight: float
    changed: bool
    reason: str
    planned_median_s: float | None = None
    ratio: float | None = None


def proposals(procedure: Procedure, found: Sequence[StepDurations]) -> tuple[Proposal, ...]:
    """One for each step, in the order given."""
    return tuple(proposal(each, procedure.spread) for each in found)


def proposal(found: StepDurations, spread: tuple[float, float, float]) -> Proposal:
    """What to plan for one step; `spread` is the procedure's, for a step that has its likely duration only."""
    takes, seen = found.step.takes, found.sample
    plan = points(takes, spread)
    if seen is None:
        why = "No run tells how long it takes" if not found.told else f"Of {_runs(len(found.told))} none tells"
        return Proposal(found.step, takes, 0.0, False, f"{why}: the plan stands.")
    if plan.likely_s <= 0:
        why = "It is planned to take no time, which no run can be weighed against"
        return Proposal(found.step, takes, 0.0, False, f"{why}: the plan stands.")
    weighed = weigh(plan, seen)
    better = _rounded(weighed.points)
    changed = better != _rounded(plan) if takes.optimistic_s is None else better != takes
    planned_s = _at(plan, 0.5)
    reason = _reason(seen, plan, weighed, better if changed else None)
    new = better if changed else takes
    return Proposal(found.step, new, weighed.weight, changed, reason, planned_s, seen.median / planned_s)


@dataclass(frozen=True, slots=True)
class Weighed:
    """The plan and the runs as one, not rounded: what the runs weigh, the three points and their median, seconds.

    `wider`: how many times as much it varies as the plan says; of a plan that has no spread, as a usual one says.
    """

    weight: float
    points: Points
    median: float
    wider: float


def weigh(plan: Points, seen: Sample) -> Weighed:
    """The rule above. `plan.likely_s` and every duration of `seen` are above 0."""
    # Three equal points have no shape that could be widened; theirs is that of a duration that is given alone.
    shape = plan if plan.high_s > plan.low_s else points(Takes(round(plan.likely_s)), DEFAULT_SPREAD)
    middle = _at(shape, 0.5)
    spread = _together(_spread(plan), seen)
    weight = seen.n / (seen.n + spread**2 / SIGMA**2)
    median = math.exp((1 - weight) * math.log(_at(plan, 0.5)) + weight * math.log(seen.median))
    wider = spread / _told_spread(shape)
    low, mean, high = (median * (each / middle) ** wider for each in (shape.low_s, shape.mean_s, shape.high_s))
    made = Points(low, min(max((6 * mean - low - high) / 4, low), high), high)
    # Wider or narrower than the plan's shape, their median is a little beside the one that was weighed.
    scale = median / _at(made, 0.5)
    return Weighed(weight, Points(scale * made.low_s, scale * made.likely_s, scale * made.high_s), median, wider)


def _spread(plan: Points) -> float:
    """The standard deviation of the logarithm that the plan speaks of; no step is surer than marks are."""
    told = _told_spread(plan) if plan.high_s > plan.low_s else 0.0
    return min(max(told, LEAST_NOISE), MOST_SPREAD)


def _told_spread(shape: Points) -> float:
    """From its ten-to-ninety, as of a lognormal duration, so that it is compared with the runs' like for like."""
    return math.log(_at(shape, HIGH) / _at(shape, LOW)) / (2 * NormalDist().inv_cdf(HIGH))


def _at(plan: Points, share: float) -> float:
    """The quantile `share` of the PERT-beta distribution of the three points, seconds."""
    if plan.high_s <= plan.low_s:
        return plan.likely_s
    table = quantiles(plan.mode)
    place = share * LEVELS - 0.5
    below = math.floor(place)
    part = (1 - (place - below)) * float(table[below]) + (place - below) * float(table[below + 1])
    return plan.low_s + (plan.high_s - plan.low_s) * part


def _together(planned: float, seen: Sample) -> float:
    """What varies from run to run, plan and runs together: their variances, weighed by runs; one run tells none."""
    if seen.n < 2:
        return planned
    shown = math.log(seen.quantile(HIGH) / seen.quantile(LOW)) / _normal_range(seen.n)
    freedom = seen.n - 1
    variance = (SPREAD_RUNS * planned**2 + freedom * shown**2) / (SPREAD_RUNS + freedom)
    return min(max(math.sqrt(variance), LEAST_NOISE), MOST_SPREAD)


@lru_cache(maxsize=256)
def _normal_range(n: int) -> float:
    """Of `n` numbers of a standard normal distribution how far their ten and ninety lie apart on average.

    Of few it is less than 2.56. Their expected places are Blom's, (i - 3/8)/(n + 1/4) (*Statistical Estimates and
    Transformed Beta-Variables*, 1958; from memory).
    """
    expected = sample(NormalDist().inv_cdf((each - 0.375) / (n + 0.25)) for each in range(1, n + 1))
    assert expected is not None
    return expected.quantile(HIGH) - expected.quantile(LOW)


def _rounded(found: Points) -> Takes:
    return Takes(rounded(found.likely_s), rounded(found.low_s), rounded(found.high_s))


def rounded(seconds: float) -> int:
    """Whole seconds as somebody plans them; see `ROUNDED`. Never below one second, and never out of order."""
    step = next((step for below, step in ROUNDED if seconds < below), 60)
    return min(max(1, step * math.floor(seconds / step + 0.5)), LONGEST_S - 60)


def _reason(seen: Sample, plan: Points, weighed: Weighed, better: Takes | None) -> str:
    """What the runs say of the plan, and why each point moves as it does; `better`: what is proposed, if anything is.

    The likely duration is where a step ends most often, and what is weighed is the median: a plan that is right has
    runs that take longer than the likely one. So both are told.
    """
    planned_s, likely_s = _at(plan, 0.5), plan.likely_s
    likely = _against(seen.median / likely_s, f"the likely {duration(round(likely_s))}")
    middle = _against(seen.median / planned_s, f"the plan's median of {duration(round(planned_s))}")
    share = min(max(round(weighed.weight, 2), 0.01), 0.99)
    made = f"weighed {share:.2f} to the plan's {1 - share:.2f}, the median is {duration(round(weighed.median))}"
    said = f"{_runs(seen.n)}, median {duration(round(seen.median))}: {likely}, {middle}; {made}"
    return f"{said}; rounded, that is the plan." if better is None else f"{said}.{_moved(plan, weighed, better)}"


def _moved(plan: Points, weighed: Weighed, better: Takes) -> str:
    """Why the points lie otherwise about the median than the plan's, and where the likely one goes against it."""
    against = ""
    if weighed.median > _at(plan, 0.5) and better.likely_s < plan.likely_s:
        against = "the likely one is lower, though the median is higher"
    elif weighed.median < _at(plan, 0.5) and better.likely_s > plan.likely_s:
        against = "the likely one is higher, though the median is lower"
    also = f", and {against}" if against else ""
    if plan.high_s <= plan.low_s:
        return f" The plan has no spread, so one is added as the runs vary{also}."
    if abs(weighed.wider - 1) >= APART:
        return f" Plan and runs together vary {_more(weighed.wider)} planned, so the points lie " + (
            f"{'farther apart' if weighed.wider > 1 else 'closer together'}{also}."
        )
    return f" Rounded, {against}." if against else ""


def _more(ratio: float) -> str:
    if ratio >= 2:
        return f"{ratio:.1f} times as much as"
    return f"{abs(round(100 * (ratio - 1)))} % {'more' if ratio > 1 else 'less'} than"


def _runs(n: int) -> str:
    return "1 run" if n == 1 else f"{n} runs"


def _against(ratio: float, what: str) -> str:
    """How the median compares with `what`: ``12 % longer than the likely 5m``."""
    percent = round(100 * (ratio - 1))
    if not percent:
        return f"as long as {what}"
    if ratio >= 2:
        return f"{ratio:.1f} times {what}"
    return f"{abs(percent)} % {'longer' if percent > 0 else 'shorter'} than {what}"
