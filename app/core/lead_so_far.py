"""The lead at sampled moments of a run, team and each person. It folds nothing: each sample's state is passed in."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.core.situation import Prepared, Situation
from app.core.state import State

MOST_SAMPLES = 240
"""More would be finer than the chart's pixels on a wide screen. Our own bound, no source."""
STEPS_S = (30, 60, 120, 300, 600, 900, 1800, 3600)
"""What may lie between two samples: round times, so that a grown run keeps the samples that it has."""


@dataclass(frozen=True, slots=True)
class LeadPoint:
    """The leads at elapsed second `at_s`, in seconds, ahead above 0. `people` in the order of the crew."""

    at_s: int
    team_s: int
    people: tuple[int, ...]


def lead_point(prepared: Prepared, state: State, at_s: int) -> LeadPoint:
    """The leads that every screen shows at `at_s` for this state."""
    return point_of(Situation(prepared, state, at_s))


def point_of(situation: Situation) -> LeadPoint:
    return LeadPoint(situation.at_s, situation.lead_s, tuple(view.lead_s for view in situation.crew))


def step_for(end_s: int) -> int:
    """The least round step by which 0 to `end_s` has at most 240 samples; beyond ten days the hour is doubled."""
    found = next((step_s for step_s in STEPS_S if _count(end_s, step_s) <= MOST_SAMPLES), 2 * STEPS_S[-1])
    while _count(end_s, found) > MOST_SAMPLES:
        found *= 2
    return found


def moments(end_s: int, step_s: int) -> tuple[int, ...]:
    """0, `step_s`, twice that and so on up to `end_s`, and `end_s` itself: elapsed seconds, each once, rising."""
    grid = range(0, end_s + 1, step_s)
    return (*grid,) if grid[-1] == end_s else (*grid, end_s)


def _count(end_s: int, step_s: int) -> int:
    return -(-end_s // step_s) + 1


def changes(points: Sequence[LeadPoint]) -> tuple[LeadPoint, ...]:
    """The points at which something happens: the first, the last, and each at which the course of any lead turns.

    Straight lines through them are the same as through all points. So where a lead jumps, the point before is among
    them, and a stretch on which a lead stands, or is lost second by second, has two rows and not a hundred.
    """
    last = len(points) - 1
    return tuple(
        point
        for place, point in enumerate(points)
        if place in (0, last) or _turns(points[place - 1], point, points[place + 1])
    )


def _turns(before: LeadPoint, point: LeadPoint, after: LeadPoint) -> bool:
    """Whether the point lies beside the straight line from the one before to the one after, in any lead. Exact."""
    came_s, goes_s = point.at_s - before.at_s, after.at_s - point.at_s
    leads = zip(
        (before.team_s, *before.people), (point.team_s, *point.people), (after.team_s, *after.people), strict=True
    )
    return any((here - first) * goes_s != (last - here) * came_s for first, here, last in leads)
