"""What is drawn for simulated people: paces, and how long a step takes them. It knows no orders; `player_readings` has
what they read.

Everything is a function of the players' seed and of names, by SHA-256: the same seed plays the same people whatever
else happens in the run, at any speed of its clock, and after a restart. Durations are those that the forecast draws
from: the PERT-beta distribution of the step's three points (`draws`), times the geometric mean of its people's paces,
each lognormal with sigma `paces.SIGMA` and median 1; a step of nobody, and one whose duration was revised, has none.
"""

import math
from statistics import NormalDist

from app.core.draws import LEVELS, Points, quantiles
from app.core.forecast import points_of
from app.core.paces import SIGMA
from app.core.procedure import Designator, StepId
from app.core.shares import share
from app.core.situation import Situation

_NORMAL = NormalDist()


def pace(seed: int, person: Designator) -> float:
    """How many times as long as expected this person takes."""
    return math.exp(SIGMA * _NORMAL.inv_cdf(share(seed, "pace", person)))


def pace_of(seed: int, people: tuple[Designator, ...]) -> float:
    """The geometric mean of their paces; 1 where there is nobody."""
    return math.prod(pace(seed, person) for person in people) ** (1 / len(people)) if people else 1.0


def drawn_s(of: Points, seed: int, step: StepId, attempt: int) -> float:
    """Seconds that an attempt at a step takes, before pace. `attempt` counts from 0: what failed is done once more."""
    if of.high_s <= of.low_s:
        return of.likely_s
    level = int(share(seed, "duration", step, attempt) * LEVELS)
    return of.low_s + (of.high_s - of.low_s) * float(quantiles(of.mode)[level])


def takes_s(situation: Situation, number: int, seed: int, attempt: int) -> int:
    """Whole seconds that simulated people need for an attempt at the step of this number."""
    step = situation.network.steps[number]
    people = () if step.id in situation.state.takes else step.who
    return round(drawn_s(points_of(situation, number), seed, step.id, attempt) * pace_of(seed, people))
