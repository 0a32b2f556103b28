"""How long the steps of a procedure took in runs of it: which durations count, and which can't be told, and why.

It reads situations that are handed to it; it chooses no runs and proposes nothing (`proposing` does).

A step of the revision is the same work as one of another revision where both are in the task of that id, do the same
(in the same words) and are done by the same people, whatever their numbers. Where a task has the same words several
times, the first is the first and so on, as long as both revisions have them equally often.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from app.core.as_run import AsRunStep, in_words
from app.core.debrief_again import worked
from app.core.events import Logged, StepMarked, StepReopened
from app.core.events_rehearsal import ClockRuled, InjectDone, InjectSet, PlayersSet
from app.core.procedure import Designator, Procedure, Span, Step, StepId
from app.core.sample import Sample, sample
from app.core.situation import Situation, StepState

LOW, HIGH = 0.1, 0.9
"""What runs vary is read from ten to ninety in a hundred, so that the longest one does not set it."""

NOT_IN_REVISION = "its revision has no such step"
NOT_MARKED = "not marked"
AT_ONCE = "marked at the second in which it could begin"
SIMULATED = "marked by simulated people"
AGAIN = "taken back and done again, so that its mark is not the end of one piece of work"
TROUBLED = "the trainer made trouble there"
NOT_YET = "told when the rehearsal has ended"
WINDOW = "it may have waited for its window, and its start was not recorded"
RULED = "the rehearsal's clock was stopped, set or at another rate meanwhile"

_Work = tuple[str, str, tuple[Designator, ...]]


@dataclass(frozen=True, slots=True)
class PastRun:
    """A run to be asked: where it stands, or ended, and its log up to there."""

    run: int
    kind: str
    situation: Situation
    log: Sequence[Logged]


@dataclass(frozen=True, slots=True)
class Told:
    """What a run tells of one step: whole seconds, or None and in words why it can't be told."""

    run: int
    took_s: int | None
    why: str = ""


@dataclass(frozen=True, slots=True)
class StepDurations:
    """A step of the revision, and what each run that was asked tells of it, in the order of the runs."""

    step: Step
    told: tuple[Told, ...]

    @property
    def took_s(self) -> tuple[int, ...]:
        return tuple(each.took_s for each in self.told if each.took_s is not None)

    @property
    def left_out(self) -> tuple[Told, ...]:
        return tuple(each for each in self.told if each.took_s is None)

    @property
    def sample(self) -> Sample | None:
        """The durations that count, seconds; None if there is none."""
        return sample(self.took_s)

    @property
    def ratio(self) -> float | None:
        """The median over the likely duration of the plan; None without either."""
        found = self.sample
        return None if found is None or not self.step.takes.likely_s else found.median / self.step.takes.likely_s


def durations(procedure: Procedure, runs: Iterable[PastRun], simulated: bool = False) -> tuple[StepDurations, ...]:
    """Every step of the procedure in file order with what the runs tell of it.

    Args:
        runs: of any revisions of it. simulated: count what simulated people did too. They draw their durations from
            the plan, so they tell nothing of it.
    """
    asked = [(past.run, same_work(procedure, past.situation.procedure), told_by(past, simulated)) for past in runs]
    return tuple(
        StepDurations(
            step,
            tuple(
                Told(run, None, NOT_IN_REVISION) if step.id not in same else told[same[step.id]]
                for run, same, told in asked
            ),
        )
        for step in procedure.steps
    )


def same_work(procedure: Procedure, other: Procedure) -> Mapping[StepId, StepId]:
    """The steps of `procedure` that `other` has too, each with its id there."""
    ours, theirs = _works(procedure), _works(other)
    return {
        step: there
        for work, steps in ours.items()
        if len(steps) == len(theirs.get(work, ()))
        for step, there in zip(steps, theirs[work], strict=True)
    }


def _works(procedure: Procedure) -> Mapping[_Work, Sequence[StepId]]:
    found: dict[_Work, list[StepId]] = defaultdict(list)
    for step in procedure.steps:
        found[(step.task, in_words(step.do), step.who)].append(step.id)
    return found


def told_by(past: PastRun, simulated: bool = False) -> Mapping[StepId, Told]:
    """What a run tells of each step of its own revision."""
    rows = worked(past.situation, past.log).steps
    ended = past.situation.state.ended_s is not None
    log = past.log
    about = _About(_shared(rows), _again(log), _played(log), _troubled(log), _ruled(log), ended, simulated)
    opened = past.situation.network.spans
    return {row.id: Told(past.run, *_took(row, about, opened[number] or ())) for number, row in enumerate(rows)}


@dataclass(frozen=True, slots=True)
class _About:
    """What is to be known of a run before a duration in it counts; see the functions that find each."""

    shared: Mapping[StepId, StepId]
    again: frozenset[StepId]
    played: Mapping[StepId, frozenset[Designator]]
    troubled: frozenset[StepId]
    ruled: Sequence[tuple[int, int]]
    ended: bool
    simulated: bool


def _took(row: AsRunStep, about: _About, window: Sequence[Span]) -> tuple[int | None, str]:
    """The duration of a step, or why it can't be told; `window`: the openings of the step's own, if it has one."""
    if row.state is not StepState.DONE or row.took_s is None or row.start_s is None or row.finish_s is None:
        off = row.state in (StepState.PUT_OFF, StepState.NOT_NEEDED)
        return None, row.state.value if row.state is not None and off else NOT_MARKED
    players = about.played.get(row.id, frozenset())
    played = bool(players) and (not row.who or not players.isdisjoint(row.who))
    if played and not about.simulated:
        return None, SIMULATED
    if row.id in about.troubled:
        # Whoever is trained is not told before that what befell them was the trainer's doing.
        return None, TROUBLED if about.ended else NOT_YET
    if row.id in about.again:
        return None, AGAIN
    if row.id in about.shared and not row.start_known:
        return None, f"marked in the same second as {about.shared[row.id]}"
    if row.took_s <= 0:
        return None, AT_ONCE
    if not row.start_known and any(row.start_s < span.opens_s < row.finish_s for span in window):
        return None, WINDOW
    # Simulated people work by the run's own clock, however fast that goes.
    if not played and any(row.start_s < ends and row.finish_s > begins for begins, ends in about.ruled):
        return None, RULED
    return row.took_s, ""


def _shared(rows: Sequence[AsRunStep]) -> Mapping[StepId, StepId]:
    """Steps of one person marked in the same second, each with another of them: caught up with together, so that one
    of them has the time of all, and which took how long can't be told. One that is planned to take no time takes none
    of another's."""
    marked: dict[tuple[Designator, int], list[StepId]] = defaultdict(list)
    for row in rows:
        if row.finish_s is not None and row.takes_s > 0:
            for person in row.who:
                marked[person, row.finish_s].append(row.id)
    return {
        step: next(other for other in each if other != step) for each in marked.values() if each[1:] for step in each
    }


def _again(log: Iterable[Logged]) -> frozenset[StepId]:
    """Steps that were done, taken back later and done again; a slip that was undone at once is none of them."""
    done: set[StepId] = set()
    found: set[StepId] = set()
    for logged in log:
        if isinstance(logged.event, StepMarked):
            done.add(logged.event.step)
        elif isinstance(logged.event, StepReopened) and logged.event.step in done and not logged.event.undone:
            found.add(logged.event.step)
    return frozenset(found)


def _played(log: Iterable[Logged]) -> Mapping[StepId, frozenset[Designator]]:
    """For each marked step whom simulated people played at its last mark; steps that nobody played then are left out.

    Nothing here says who gave the mark: it is a step's own people whose pace it tells.
    """
    found: dict[StepId, frozenset[Designator]] = {}
    players: frozenset[Designator] = frozenset()
    for logged in log:
        if isinstance(logged.event, PlayersSet):
            players = frozenset(logged.event.who)
        elif isinstance(logged.event, StepMarked):
            found[logged.event.step] = players
    return {step: who for step, who in found.items() if who}


def _troubled(log: Iterable[Logged]) -> frozenset[StepId]:
    """The steps that a trainer's trouble named and that it took effect on: they took as long as the trainer had it."""
    named: dict[str, StepId] = {}
    found = set()
    for logged in log:
        if isinstance(logged.event, InjectSet) and logged.event.step is not None:
            named[logged.event.inject] = logged.event.step
        elif isinstance(logged.event, InjectDone) and logged.event.inject in named:
            found.add(named[logged.event.inject])
    return frozenset(found)


def _ruled(log: Iterable[Logged]) -> tuple[tuple[int, int], ...]:
    """Stretches of elapsed time, from and to in seconds, that did not pass second by second.

    A clock that stood is a stretch of no length: people may have worked on while it did.
    """
    found: list[tuple[int, int]] = []
    since_s: int | None = None
    for logged in log:
        if not isinstance(logged.event, ClockRuled):
            continue
        if since_s is not None:
            found.append((since_s, logged.at_s))
        if logged.event.to_s != logged.at_s:
            found.append((min(logged.at_s, logged.event.to_s), max(logged.at_s, logged.event.to_s)))
        since_s = None if logged.event.rate == 1 else logged.event.to_s
    return (*found, (since_s, _FOREVER_S)) if since_s is not None else tuple(found)


_FOREVER_S = 1 << 60
