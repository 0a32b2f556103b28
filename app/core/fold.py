"""State from events: `fold` is the only way a run's state comes to be. It refuses nothing and reads no clock."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import assert_never

from app.core.events import (
    ClockStepped,
    Event,
    GoGiven,
    Logged,
    NoGoGiven,
    NoteAdded,
    RunEnded,
    RunStarted,
    StartRecorded,
    StepAdded,
    StepMarked,
    StepNotNeeded,
    StepReopened,
    TakesRevised,
    TaskPutBack,
    TasksPutOff,
    TasksReordered,
    WorkGivenBack,
    WorkTaken,
)
from app.core.network import Places
from app.core.procedure import After, Designator, Step, StepId, Takes, Task, TaskId


@dataclass(frozen=True, slots=True)
class Done:
    """A mark: when (elapsed seconds), which event, by whom, and the values recorded with it."""

    at_s: int
    seq: int
    by: str
    values: tuple[tuple[str, float], ...] = ()
    ordered_because: str | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """One person's answer at a hold."""

    go: bool
    at_s: int
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Taken:
    """Work taken during the run: where it was put and when. `put_off_because` is set for work that had been put off.

    `seq` is that of its event: lists are made by applying what changes them in that order.
    """

    places: Places
    at_s: int
    put_off_because: str | None = None
    seq: int = 0


@dataclass(frozen=True, slots=True)
class Added:
    """A step added during the run, as a task of its own: where it was put, when, and by which event."""

    task: Task
    places: Places
    at_s: int
    seq: int = 0


@dataclass(frozen=True, slots=True)
class Reordered:
    """Tasks of one person in a new order, and the event that gave it."""

    person: Designator
    tasks: tuple[TaskId, ...]
    seq: int = 0


@dataclass(frozen=True, slots=True)
class State:
    """All that is known of a run after its event number `seq`. Times are elapsed seconds.

    `takes` holds the revised durations. `put_off_together` has the tasks of each putting off, back again or not.
    `off_since` says since when what is put off or not needed is out of the run.
    `added` and `reordered` are in the order of their events.
    """

    seq: int = 0
    revision: str = ""
    kind: str = ""
    zero_utc: str = ""
    done: Mapping[StepId, Done] = field(default_factory=dict)
    started: Mapping[StepId, int] = field(default_factory=dict)
    answers: Mapping[StepId, Mapping[Designator, Answer]] = field(default_factory=dict)
    not_needed: Mapping[StepId, str] = field(default_factory=dict)
    put_off: Mapping[TaskId, str] = field(default_factory=dict)
    put_off_together: tuple[tuple[TaskId, ...], ...] = ()
    off_since: Mapping[TaskId | StepId, int] = field(default_factory=dict)
    taken: Mapping[TaskId, Taken] = field(default_factory=dict)
    takes: Mapping[StepId, int] = field(default_factory=dict)
    added: Mapping[TaskId, Added] = field(default_factory=dict)
    reordered: tuple[Reordered, ...] = ()
    stepped_ms: int = 0
    ended_s: int | None = None
    end_reason: str = ""

    def answer(self, step: StepId, person: Designator) -> Answer | None:
        return self.answers.get(step, {}).get(person)

    def begun(self, task: TaskId) -> bool:
        """Whether a step of the task was marked, or its start recorded."""
        return any(step.rpartition("/")[0] == task for step in (*self.done, *self.started))


EMPTY = State()


def without(taken: Mapping[TaskId, Taken], task: TaskId) -> dict[TaskId, Taken]:
    """The taken work without `task`. What was later put before it now comes before what `task` came before."""
    left = {other: each for other, each in taken.items() if other != task}
    if task not in taken:
        return left
    gone, order = taken[task], list(taken)
    for other in order[order.index(task) + 1 :]:
        left[other] = replace(left[other], places=_past(left[other].places, task, gone.places))
    return left


def _past(places: Places, task: TaskId, its_places: Places) -> Places:
    """The places, where they say before `task`, moved to before what that came before."""
    instead = dict(its_places)
    return tuple((person, instead.get(person) if before == task else before) for person, before in places)


def added_task(event: StepAdded) -> Task:
    """The task that the event brings into being; its id says which."""
    after = tuple(After(task, number) for task, number in event.after)
    step = Step(event.task, 1, event.do, Takes(event.takes_s), event.who, after)
    return Task(id=event.task, title=event.do, steps=(step,), who=event.who, after=after, added=True)


def fold(events: Iterable[Logged], state: State = EMPTY, until_s: int | None = None) -> State:
    """The state after `events`, in order of `seq`, starting from `state`.

    Args:
        until_s: leave out what happened after this elapsed second. What happened before it counts even when it
            was entered later, so a past moment is shown as it was, not as it was known.
    """
    draft = _Draft(state)
    for logged in events:
        if until_s is None or logged.at_s <= until_s:
            draft.take(logged)
    return draft.frozen()


class _Draft:
    """A state being folded. Its dictionaries are copied once, not once an event."""

    def __init__(self, state: State) -> None:
        self.base = state
        self.seq = state.seq
        self.done = dict(state.done)
        self.started = dict(state.started)
        self.answers = {step: dict(answers) for step, answers in state.answers.items()}
        self.not_needed = dict(state.not_needed)
        self.put_off = dict(state.put_off)
        self.put_off_together = list(state.put_off_together)
        self.off_since = dict(state.off_since)
        self.taken = dict(state.taken)
        self.takes = dict(state.takes)
        self.added = dict(state.added)
        self.reordered = list(state.reordered)

    def frozen(self) -> State:
        return replace(
            self.base,
            seq=self.seq,
            done=self.done,
            started=self.started,
            answers=self.answers,
            not_needed=self.not_needed,
            put_off=self.put_off,
            put_off_together=tuple(self.put_off_together),
            off_since=self.off_since,
            taken=self.taken,
            takes=self.takes,
            added=self.added,
            reordered=tuple(self.reordered),
        )

    def take(self, logged: Logged) -> None:
        self._apply(logged.event, logged)
        self.seq = logged.seq

    def _apply(self, event: Event, logged: Logged) -> None:
        match event:
            case StepMarked(step, values, ordered_because):
                self.done[step] = Done(logged.at_s, logged.seq, logged.by, values, ordered_because)
                self.not_needed.pop(step, None)
                self.off_since.pop(step, None)
            case StepReopened(step):
                self._reopen(step)
            case StartRecorded(step):
                self.started[step] = logged.at_s
            case NoteAdded():
                pass  # A note changes nothing that is computed; it stands in the log.
            case GoGiven() | NoGoGiven():
                reason = event.reason if isinstance(event, NoGoGiven) else ""
                answer = Answer(isinstance(event, GoGiven), logged.at_s, reason)
                self.answers.setdefault(event.step, {})[event.person] = answer
            case StepNotNeeded(step, reason):
                self.not_needed[step] = reason
                self.off_since[step] = logged.at_s
            case TasksPutOff() | TaskPutBack() | WorkTaken() | WorkGivenBack():
                self._move(event, logged)
            case TakesRevised() | TasksReordered() | StepAdded():
                self._replan(event, logged)
            case RunStarted(revision, kind, zero_utc):
                self.base = replace(self.base, revision=revision, kind=kind, zero_utc=zero_utc)
            case ClockStepped(step_ms):
                self.base = replace(self.base, stepped_ms=self.base.stepped_ms + step_ms)
            case RunEnded(reason):
                self.base = replace(self.base, ended_s=logged.at_s, end_reason=reason)
            case _:
                assert_never(event)

    def _reopen(self, step: StepId) -> None:
        """The step is as if it had never been marked; at a hold everyone is asked again."""
        self.done.pop(step, None)
        self.not_needed.pop(step, None)
        self.off_since.pop(step, None)
        self.answers.pop(step, None)

    def _replan(self, event: TakesRevised | TasksReordered | StepAdded, logged: Logged) -> None:
        match event:
            case TakesRevised(step, takes_s):
                self.takes[step] = takes_s
            case TasksReordered(person, tasks):
                self.reordered.append(Reordered(person, tasks, logged.seq))
            case StepAdded(task, places=places):
                self.added[task] = Added(added_task(event), places, logged.at_s, logged.seq)
            case _:
                assert_never(event)

    def _take_out(self, task: TaskId) -> None:
        """Taken work leaves the run; what was put before it since then comes before what it came before."""
        gone = self.taken.get(task)
        if gone is None:
            return
        self.taken = without(self.taken, task)
        for other, each in self.added.items():
            if each.seq > gone.seq:
                self.added[other] = replace(each, places=_past(each.places, task, gone.places))

    def _move(self, event: TasksPutOff | TaskPutBack | WorkTaken | WorkGivenBack, logged: Logged) -> None:
        match event:
            case TasksPutOff(tasks, reason):
                self.put_off_together.append(tasks)
                for task in tasks:
                    self.put_off[task] = reason
                    # Taken work stood elsewhere than in the file; what followed it there is not known any more.
                    self.off_since[task] = 0 if task in self.taken else logged.at_s
                    self._take_out(task)
            case TaskPutBack(task):
                self.put_off.pop(task, None)
                self.off_since.pop(task, None)
            case WorkTaken(task, places):
                self.off_since.pop(task, None)
                self.taken[task] = Taken(places, logged.at_s, self.put_off.pop(task, None), logged.seq)
            case WorkGivenBack(task):
                taken = self.taken.get(task)
                self._take_out(task)
                if taken and taken.put_off_because is not None:
                    self.put_off[task] = taken.put_off_because
                    self.off_since[task] = logged.at_s
            case _:
                assert_never(event)
