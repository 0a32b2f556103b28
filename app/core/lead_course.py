"""How the leads of one state of a run go on from second to second, and which step is to blame. It reads no log."""

from collections.abc import Iterator
from dataclasses import dataclass

from app.core.passes import Timeline, project
from app.core.situation import Situation


@dataclass(frozen=True, slots=True)
class Cause:
    """`step`: the number of the step that goes on longer than was counted on. `missed`: that of a step which it made
    miss an opening of its window; else None.
    """

    step: int
    missed: int | None = None


@dataclass(frozen=True, slots=True)
class Loss:
    """What a lead changed by from one elapsed second to another, below 0 for a loss, and the cause."""

    from_s: int
    to_s: int
    lead_s: int
    cause: Cause


class Course:
    """One state of a run, looked at from its `at_s` on while nothing is entered. `seat` None is the team."""

    def __init__(self, situation: Situation) -> None:
        self.situation = situation
        self._timelines = {situation.at_s: situation.projection}
        self._measured = {seat: measured(situation, seat) for seat in range(len(situation.network.crew))}

    def lead_s(self, at_s: int, seat: int | None) -> int:
        """The lead that a screen would show at `at_s`, if nothing is entered before then."""
        timeline, plan = self._timeline(at_s), self.situation.plan
        if seat is None:
            return plan.end_s - timeline.end_s
        step = self._measured[seat]
        return 0 if step is None else plan.times(step)[1] - timeline.times(step)[1]

    def cause(self, at_s: int, seat: int | None) -> Cause:
        """The step because of which this lead changes at `at_s`.

        Raises:
            ValueError: all that it hangs on is done, so it changes no more by itself.
        """
        timeline = self._timeline(at_s)
        step = self._last(timeline) if seat is None else self._measured[seat]
        if step is None or step in self.situation.facts.done:
            raise ValueError("what is done changes no lead")
        return self._back(timeline, step, at_s)

    def over_s(self, step: int) -> int:
        """When a step that can be under way should be over."""
        return self.situation.projection.times(step)[0] + self.situation.network.takes_s[step]

    def _timeline(self, at_s: int) -> Timeline:
        if at_s not in self._timelines:
            self._timelines[at_s] = project(self.situation.network, self.situation.facts, at_s)
        return self._timelines[at_s]

    def _last(self, timeline: Timeline) -> int | None:
        """The open step that the team's finish waits for, of several the first in file order; None when all is done."""
        counted = self.situation.network.counted
        ends = [step for step in range(len(counted)) if counted[step] and self.situation.is_open(step)]
        return max(ends, key=lambda step: timeline.times(step)[1], default=None)

    def _back(self, timeline: Timeline, step: int, at_s: int) -> Cause:
        """From a step along what it waits for most, to one that should be over by now."""
        network, facts, missed = self.situation.network, self.situation.facts, None
        while True:
            starts_s, _ = timeline.times(step)
            over = step not in facts.removed and starts_s + network.takes_s[step] < at_s
            before = None if over or step in facts.started else self._binding(timeline, step)
            if before is None:
                return Cause(step, missed)
            missed = step if network.spans[step] is not None and step not in facts.removed else missed
            step = before

    def _binding(self, timeline: Timeline, step: int) -> int | None:
        """The open step, or removed one, that holds this one back most."""
        situation = self.situation
        links = [
            (timeline.times(earlier)[1] + wait_s, -earlier)
            for earlier, wait_s in situation.network.before[step]
            if situation.is_in(earlier) and earlier not in situation.facts.done
        ]
        if step not in situation.facts.removed:
            links += [(timeline.times(earlier)[1], -earlier) for earlier in situation.busy_before(step)]
        return -max(links)[1] if links else None


def measured(situation: Situation, seat: int) -> int | None:
    """The step by which a person's lead is measured: their next open nominal step, after the last one their last."""
    network, removed = situation.network, situation.facts.removed
    own = [step for step in network.lists[seat] if network.nominal[step] and step not in removed]
    return next((step for step in own if step not in situation.facts.done), own[-1] if own else None)


def losses(course: Course, seat: int | None, from_s: int, to_s: int) -> Iterator[Loss]:
    """Each stretch of a lead that changes by itself between two seconds, in order of time, with its cause.

    Without windows a lead stands, or falls by a second each second: the finish is the latest of what does not move and
    of chains that begin with a step that is over its time. So a fall of n seconds is looked for in the last n, and a
    step that was over its time all along is the cause all along. What does not fit that is split until it does. What is
    lost and won back within a stretch is not told.
    """
    change_s, lasts_s = course.lead_s(to_s, seat) - course.lead_s(from_s, seat), to_s - from_s
    if change_s == 0:
        return
    cause, flat_s = course.cause(to_s, seat), to_s + change_s
    over_s = course.over_s(cause.step) if change_s == -lasts_s else to_s
    if over_s <= from_s:
        yield Loss(from_s, to_s, change_s, Cause(cause.step))
    elif lasts_s == 1:
        yield Loss(from_s, to_s, change_s, cause)
    elif from_s < flat_s < to_s and course.lead_s(flat_s, seat) == course.lead_s(from_s, seat):
        yield from losses(course, seat, flat_s, to_s)
    else:
        middle_s = over_s if over_s < to_s else (from_s + to_s) // 2
        yield from losses(course, seat, from_s, middle_s)
        yield from losses(course, seat, middle_s, to_s)
