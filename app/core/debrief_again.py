"""Steps as they were worked on in a run in which marks were taken back and given anew. It changes no projection.

The projection counts on the last mark of each step alone: one that is taken back hours later, and done again within
seconds, would have been on all that time, and what followed it at once would have taken no time. So the start that is
worked out for a mark is the one that stood when the first mark after it was taken back; a step that is done again is
begun when it was taken back, at the earliest, and the first piece of work on it counts for its people too.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from app.core.as_run import AsRunStep, as_run
from app.core.events import Logged, StepReopened
from app.core.fold import fold
from app.core.procedure import StepId
from app.core.situation import Situation
from app.core.state import EMPTY


@dataclass(frozen=True, slots=True)
class Worked:
    """`steps`: one row for each step, as `as_run` gives them. `pieces`: earlier work on some, up to the mark then."""

    steps: tuple[AsRunStep, ...]
    pieces: tuple[AsRunStep, ...] = ()


def worked(situation: Situation, log: Sequence[Logged]) -> Worked:
    """The steps of a run that stands as `situation` has it, whose log up to there is `log`."""
    stood: dict[StepId, AsRunStep] = {}
    back_s: dict[StepId, int] = {}
    pieces: list[AsRunStep] = []
    state, folded = EMPTY, 0
    for place, step in _taken_back(log):
        at_s = log[place].at_s
        state, folded = fold(log[folded:place], state), place
        before = Situation(situation.prepared.base, state, at_s)
        now = {row.id: _corrected(row, stood, back_s) for row in as_run(before) if row.finish_s is not None}
        if step in now:
            pieces.append(now.pop(step))
            back_s[step] = at_s
        stood = now
    return Worked(tuple(_corrected(row, stood, back_s) for row in as_run(situation)), tuple(pieces))


def _taken_back(log: Sequence[Logged]) -> Iterator[tuple[int, StepId]]:
    """The places in the log where a step was reopened; a slip that was undone at once is as if it had not been."""
    for place, logged in enumerate(log):
        if isinstance(logged.event, StepReopened) and not logged.event.undone:
            yield place, logged.event.step


def _corrected(row: AsRunStep, stood: dict[StepId, AsRunStep], back_s: dict[StepId, int]) -> AsRunStep:
    if row.start_known or row.start_s is None:
        return row
    old = stood.get(row.id)
    if old is not None and old.finish_s == row.finish_s:
        return replace(row, start_s=old.start_s, start_known=old.start_known)
    back = back_s.get(row.id)
    if back is None or (row.finish_s is not None and row.finish_s < back):
        return row
    return replace(row, start_s=max(row.start_s, back))
