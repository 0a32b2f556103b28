"""The way of the leads of a run, exact to the second: one course from each entry to the next. It puts nothing down."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from app.core.events import Logged
from app.core.lead_course import Course, losses
from app.core.lead_so_far import LeadPoint
from app.core.procedure import Designator, Procedure
from app.core.retelling import Told, retold
from app.core.situation import Prepared, Situation
from app.core.state import EMPTY


@dataclass(frozen=True, slots=True)
class Turning:
    """An entry that may move the lead, and the course from it on."""

    told: Told
    course: Course


@dataclass(frozen=True, slots=True)
class Stretch:
    """A course from one elapsed second to another; `turning` is the entry there, None at the end of the way."""

    course: Course
    from_s: int
    to_s: int
    turning: Turning | None


class Way:
    """Of one run from zero to elapsed second `end_s`. What happened later is left out."""

    def __init__(self, prepared: Prepared, log: Iterable[Logged], end_s: int) -> None:
        self.end_s = end_s
        self.crew: tuple[Designator, ...] = prepared.network.crew
        self._first = Course(Situation(prepared, EMPTY, 0))
        self._turnings = [
            Turning(told, Course(Situation(prepared, told.state, told.at_s)))
            for told in retold(log)
            if told.at_s <= end_s
        ]

    @property
    def procedure(self) -> Procedure:
        """With the steps that the run has added."""
        return (self._turnings[-1].course if self._turnings else self._first).situation.procedure

    def stretches(self) -> Iterator[Stretch]:
        """From zero to the end, each beginning where the one before ended; several may lie in one second."""
        course, from_s = self._first, 0
        for turning in self._turnings:
            yield Stretch(course, from_s, turning.told.at_s, turning)
            course, from_s = turning.course, turning.told.at_s
        yield Stretch(course, from_s, self.end_s, None)

    def points(self, people: bool = True) -> tuple[LeadPoint, ...]:
        """The leads at every second at which their course turns: straight lines through them are the whole of it.

        Where a window closes on a step and what it cost is won back before the next entry, that is not among them.

        Args:
            people: theirs too; else the points have the team's alone.
        """
        seats = (None, *range(len(self.crew))) if people else (None,)
        found: dict[int, LeadPoint] = {}
        for stretch in self.stretches():
            last_s = stretch.to_s if stretch.turning is None else max(stretch.from_s, stretch.to_s - 1)
            seconds = {stretch.from_s, last_s}
            for seat in seats:
                for loss in losses(stretch.course, seat, stretch.from_s, last_s):
                    seconds |= {loss.from_s, loss.to_s}
            for at_s in sorted(seconds):
                team_s, *others = (stretch.course.lead_s(at_s, seat) for seat in seats)
                found[at_s] = LeadPoint(at_s, team_s, tuple(others))
        return tuple(found[at_s] for at_s in sorted(found))
