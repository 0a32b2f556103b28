"""The turn-back time: how late close-out can start and still end by the limit. It warns and decides nothing."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from app.core.passes import fit_back
from app.core.situation import Situation

WARN_S = 1800
"""From so many seconds before the turn-back time on it is counted down. Our own choice, no source."""


class Phase(StrEnum):
    """`later`: more than WARN_S before the turn-back time. `soon`: from then on, up to and including that second,
    which is the last moment. `passed`: after it, or there is no such second.
    """

    LATER = "later"
    SOON = "soon"
    PASSED = "passed"


@dataclass(frozen=True, slots=True)
class TurnBack:
    """The turn-back time as it stands at one moment. All times in elapsed seconds.

    Attributes:
        by_s: the latest second at which close-out can start and end by the limit; below 0 if the limit is too short
            for it; None if no start at all ends by the limit, because a window or an earliest start is in the way.
        limit_s: the limit that it is reckoned from.
        at_s: the moment that is asked about.
    """

    by_s: int | None
    limit_s: int
    at_s: int

    @property
    def left_s(self) -> int | None:
        """Seconds up to the turn-back time, below 0 once it has passed; None where `by_s` is."""
        return None if self.by_s is None else self.by_s - self.at_s

    @property
    def phase(self) -> Phase:
        left_s = self.left_s
        if left_s is None or left_s < 0:
            return Phase.PASSED
        return Phase.SOON if left_s <= WARN_S else Phase.LATER


def limit_s(situation: Situation) -> int | None:
    """The run's limit, elapsed seconds: the file's, or a supply's time to reserve; None if there is none."""
    return None if situation.limit is None else situation.limit.at_s


def turn_back(situation: Situation) -> TurnBack | None:
    """How late the open steps of the close-out task can start, one after another, and still end by the limit.

    Backward through them: late finish = the least over the open steps that follow of (late start − wait), the limit
    for the last; late start = late finish − likely duration, moved back to the last moment of its window where it
    fits. The turn-back time is the first one's late start. Steps that are not needed take no time and pass on their
    waits. Only close-out's own steps count: what else must be done first is taken to be done by then, people to be
    free, and work of other tasks between close-out's steps to fit in. No start will do where a step finds no opening
    of its window early enough, or may not start before a time that is too late. Source: "Turn-back" in the design.

    Returns:
        None without a limit or a close-out task, once a step of close-out is marked or its start recorded, when none
        of its steps is open, and when the run has ended.
    """
    limit, task = limit_s(situation), situation.procedure.limits.close_out
    if limit is None or task is None or situation.state.ended_s is not None or situation.state.begun(task):
        return None
    steps = [
        number for number, step in enumerate(situation.network.steps) if step.task == task and situation.is_open(number)
    ]
    return TurnBack(_latest_start_s(situation, steps, limit), limit, situation.at_s) if steps else None


def _latest_start_s(situation: Situation, steps: list[int], limit: int) -> int | None:
    """`steps` in file order, which is an order of work: a step of a task waits only for earlier ones of it."""
    late_s = dict.fromkeys(steps, limit)
    starts_s = limit
    for step in reversed(steps):
        start_s = _late_start_s(situation, step, late_s)
        if start_s is None:
            return None
        for earlier, wait_s in situation.prerequisites(step):
            if earlier in late_s:
                late_s[earlier] = min(late_s[earlier], start_s - wait_s)
        starts_s = start_s
    return starts_s


def _late_start_s(situation: Situation, step: int, late_s: Mapping[int, int]) -> int | None:
    takes_s, spans = situation.network.takes_s[step], situation.network.spans[step]
    start_s: int | None = late_s[step] - takes_s
    if start_s is not None and spans is not None:
        start_s = fit_back(start_s, takes_s, spans)
    not_before_s = situation.network.not_before_s[step]
    # An earliest start of 0 is none: a limit shorter than close-out itself still has a time, below 0.
    return None if start_s is None or (not_before_s and start_s < not_before_s) else start_s
