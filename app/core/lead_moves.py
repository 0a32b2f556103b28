"""Where the lead of a run was won and lost: every change of it, put down to an entry or to a step that took longer.

The lead is a function of time, as past moments show it. It changes in two ways: at once, with an entry of the log; and
between two entries second by second, while a step goes on longer than was counted on. So the changes add up to the
lead at the end, exactly. It decides nothing.
"""

from dataclasses import dataclass, replace
from enum import StrEnum

from app.core.lead_course import Cause, Course, Loss, losses
from app.core.lead_way import Way
from app.core.procedure import Designator, Procedure, StepId
from app.core.retelling import Told
from app.core.words import sentence, step_words


class How(StrEnum):
    ENTRY = "with an entry"
    RAN_OVER = "ran over"
    AT_HOLD = "waited at a hold"
    WINDOW = "missed a window"


@dataclass(frozen=True, slots=True)
class LeadMove:
    """One reason for which a lead changed.

    Attributes:
        from_s, to_s: from when to when, elapsed seconds; the same for an entry.
        lead_s: by how much: won above 0, lost below.
        step: the step that was marked, or that took longer; None for an entry about no single step.
        seq: the entry's; None for what ran on between entries. times: in how many spells it came about.
        words: the log's sentence, or what took longer.
    """

    how: How
    from_s: int
    to_s: int
    lead_s: int
    step: StepId | None
    seq: int | None
    times: int
    words: str


@dataclass(frozen=True, slots=True)
class LeadStory:
    """The changes of the team's lead, and of each person's in the order of the crew; the largest first."""

    team: tuple[LeadMove, ...]
    people: tuple[tuple[Designator, tuple[LeadMove, ...]], ...]


def lead_story(way: Way) -> LeadStory:
    """All changes from zero, where every lead is 0, to the end of the way.

    The sum of `lead_s` over the team's changes is the team's lead at the end, and so for each person.
    """
    crew = way.crew
    return LeadStory(_account(way, None), tuple((person, _account(way, seat)) for seat, person in enumerate(crew)))


def _account(way: Way, seat: int | None) -> tuple[LeadMove, ...]:
    book = _Book(way.procedure)
    for stretch in way.stretches():
        course, turning = stretch.course, stretch.turning
        for loss in losses(course, seat, stretch.from_s, stretch.to_s):
            book.ran_on(course, loss)
        if turning is not None:
            won_s = turning.course.lead_s(stretch.to_s, seat) - course.lead_s(stretch.to_s, seat)
            book.entered(turning.told, won_s)
    return book.moves()


class _Book:
    """Of one lead: what was entered, by second and step; what ran on, by step."""

    def __init__(self, procedure: Procedure) -> None:
        self._procedure = procedure
        self._entered: dict[tuple[int, str], LeadMove] = {}
        self._ran_on: dict[tuple[How, StepId, StepId | None], LeadMove] = {}

    def entered(self, told: Told, lead_s: int) -> None:
        """Entries of one second about one step are one: a mark that another entry takes back there changed nothing."""
        step: StepId | None = getattr(told.logged.event, "step", None)
        key = (told.at_s, step or str(told.logged.seq))
        before = self._entered.get(key)
        self._entered[key] = LeadMove(
            how=How.ENTRY,
            from_s=told.at_s,
            to_s=told.at_s,
            lead_s=lead_s + (before.lead_s if before else 0),
            step=step,
            seq=told.logged.seq,
            times=1,
            words=sentence(told.logged.event, self._procedure),
        )

    def ran_on(self, course: Course, loss: Loss) -> None:
        """The spells of one step are one: that others marked theirs meanwhile is no reason to tell them apart."""
        how, step, missed = _how(course, loss.cause)
        key, before = (how, step, missed), self._ran_on.get((how, step, missed))
        words = self._words(how, step, missed)
        new = LeadMove(how, loss.from_s, loss.to_s, loss.lead_s, step, None, 1, words)
        if before is not None:
            times = before.times + (loss.from_s > before.to_s)
            new = replace(new, from_s=before.from_s, lead_s=before.lead_s + loss.lead_s, times=times)
        self._ran_on[key] = new

    def _words(self, how: How, step: StepId, missed: StepId | None) -> str:
        named = step_words(self._procedure, step)
        match how:
            case How.AT_HOLD:
                return f"Waited at the hold: {named}"
            case How.WINDOW if missed is not None:
                return f"Missed its window: {step_words(self._procedure, missed)}, as this ran over: {named}"
            case _:
                return f"Ran over: {named}"

    def moves(self) -> tuple[LeadMove, ...]:
        found = [move for move in (*self._entered.values(), *self._ran_on.values()) if move.lead_s]
        return tuple(sorted(found, key=lambda move: (-abs(move.lead_s), move.from_s, move.seq or 0)))


def _how(course: Course, cause: Cause) -> tuple[How, StepId, StepId | None]:
    steps = course.situation.network.steps
    step = steps[cause.step]
    if cause.missed is not None:
        return How.WINDOW, step.id, steps[cause.missed].id
    return (How.AT_HOLD if step.go else How.RAN_OVER), step.id, None
