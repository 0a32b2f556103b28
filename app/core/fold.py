"""State from events: `fold` is the only way a run's state comes to be. It refuses nothing and reads no clock."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import assert_never

from app.core.events import (
    ClockStepped,
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
from app.core.events_progress import (
    ActionsDone,
    ActionsTakenBack,
    CompletionCalled,
    MarkCorrected,
    StepConfirmed,
    ValuesAccepted,
    WarningAcknowledged,
)
from app.core.events_rehearsal import ClockRuled, InjectDone, InjectDropped, InjectSet, PlayersSet
from app.core.events_watch import ShiftHandedOver
from app.core.network import Places
from app.core.procedure import After, Step, StepId, Takes, Task, TaskId
from app.core.progress import progressed, recounted, reopened, settled
from app.core.rehearsal import rehearsed
from app.core.state import EMPTY, Added, Done, Reordered, State, Taken
from app.core.watch import Answer, Note, noted, watched


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
        if until_s is None or happened_s(logged) <= until_s:
            draft.take(logged)
        elif isinstance(logged.event, MarkCorrected) and logged.event.was_s <= until_s:
            # It was done, and what was counted with the mark was done, only later than its first mark said.
            draft.done.pop(logged.event.step, None)
            draft.progress = recounted(draft.progress, logged.event.step, logged.event.was_s, None)
    return draft.frozen()


def happened_s(logged: Logged) -> int:
    """From which elapsed second on a past moment shows the event: a correction at once with the mark, whenever made."""
    return logged.event.now_s if isinstance(logged.event, MarkCorrected) else logged.at_s


def changes_from_s(logged: Logged) -> int:
    """The first elapsed second that the event shows otherwise: of a correction to a later time, the old one."""
    happened = happened_s(logged)
    return min(happened, logged.event.was_s) if isinstance(logged.event, MarkCorrected) else happened


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
        self.progress = state.progress
        self.anew = dict(state.progress.anew)
        self.watch = state.watch
        self.notes = dict(state.notes)

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
            progress=replace(self.progress, anew=self.anew),
            watch=self.watch,
            notes=self.notes,
        )

    def take(self, logged: Logged) -> None:
        event, self.seq = logged.event, logged.seq
        match event:
            case StepMarked() | MarkCorrected() | StepReopened() | StartRecorded() | StepNotNeeded():
                self._step(event, logged)
            case GoGiven() | NoGoGiven():
                self._answer(event, logged)
            case NoteAdded(text, step, person):
                note = Note(logged.at_s, logged.seq, logged.by, text)
                if about := step or person:
                    self.notes[about] = noted(self.notes.get(about, ()), note)
            case ShiftHandedOver():
                pass  # It changes nothing that is computed; it stands in the log.
            case TasksPutOff() | TaskPutBack() | WorkTaken() | WorkGivenBack():
                self._move(event, logged)
            case TakesRevised() | TasksReordered() | StepAdded():
                self._replan(event, logged)
            case RunStarted() | ClockStepped() | RunEnded():
                self._run(event, logged)
            case ClockRuled() | PlayersSet() | InjectSet() | InjectDropped() | InjectDone():
                after = rehearsed(self.base.rehearsal, event, logged, self.base.stepped_ms)
                self.base = replace(self.base, rehearsal=after)
            case (
                WarningAcknowledged()
                | ActionsDone()
                | ActionsTakenBack()
                | CompletionCalled()
                | ValuesAccepted()
                | StepConfirmed()
            ):
                # A past moment may have the call without that a mark before it was taken back, which came later.
                if not (isinstance(event, CompletionCalled) and event.step in self.done):
                    self.progress = progressed(self.progress, event, logged)
            case _:
                self.watch = watched(self.watch, event, logged)

    def _run(self, event: RunStarted | ClockStepped | RunEnded, logged: Logged) -> None:
        match event:
            case RunStarted(revision, kind, zero_utc):
                self.base = replace(self.base, revision=revision, kind=kind, zero_utc=zero_utc)
            case ClockStepped(step_ms):
                self.base = replace(self.base, stepped_ms=self.base.stepped_ms + step_ms)
            case RunEnded(reason):
                self.base = replace(self.base, ended_s=logged.at_s, end_reason=reason)

    def _step(
        self, event: StepMarked | MarkCorrected | StepReopened | StartRecorded | StepNotNeeded, logged: Logged
    ) -> None:
        match event:
            case StepMarked(step, values, ordered_because):
                self.done[step] = Done(logged.at_s, logged.seq, logged.by, values, ordered_because)
                self.not_needed.pop(step, None)
                self.off_since.pop(step, None)
                self.progress = settled(self.progress, step)
            case MarkCorrected(step, was_s, now_s, _, values):
                # The mark keeps its event, so that the last mark of a person stays the last.
                mark = self.done.get(step, Done(now_s, logged.seq, logged.by))
                self.done[step] = replace(mark, at_s=now_s, values=values)
                self.progress = settled(recounted(self.progress, step, was_s, now_s), step)
            case StepReopened(step, undone=undone, asks_again=holds):
                self._reopen(step, undone)
                # What was pressed before about these steps, and comes in later, is of what was before.
                self.anew.update(dict.fromkeys(holds if undone else (step, *holds), logged.logged_s))
                for hold in holds:
                    self.answers[hold] = {who: each for who, each in self.answers.get(hold, {}).items() if not each.go}
            case StartRecorded(step):
                self.started[step] = logged.at_s
            case StepNotNeeded(step, reason):
                self.not_needed[step] = reason
                self.off_since[step] = logged.at_s
                self.progress = settled(self.progress, step)

    def _answer(self, event: GoGiven | NoGoGiven, logged: Logged) -> None:
        is_go = isinstance(event, GoGiven)
        reason = event.lifted_because or "" if isinstance(event, GoGiven) else event.reason
        answer = Answer(is_go, logged.at_s, reason, logged.by, event.heard)
        self.answers.setdefault(event.step, {})[event.person] = answer

    def _reopen(self, step: StepId, undone: bool) -> None:
        """The step is as if it had never been marked; at a hold everyone is asked again."""
        self.progress = reopened(self.progress, step, undone)
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
