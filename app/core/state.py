"""The state of a run as values: all that is known after an event. `fold` makes it from events."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from app.core.network import Places
from app.core.procedure import Designator, StepId, Task, TaskId
from app.core.progress import Progress
from app.core.rehearsal import Rehearsal
from app.core.watch import Answer, Note, Watch


@dataclass(frozen=True, slots=True)
class Done:
    """A mark: when (elapsed seconds), which event, by whom, and the values recorded with it."""

    at_s: int
    seq: int
    by: str
    values: tuple[tuple[str, float], ...] = ()
    ordered_because: str | None = None


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
    `added` and `reordered` are in the order of their events. `progress`: how far open steps are; `watch`: what is
    watched beside the steps; `notes`: those on a step, or else on a person, in order of time.
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
    progress: Progress = field(default_factory=Progress)
    watch: Watch = field(default_factory=Watch)
    notes: Mapping[StepId | Designator, tuple[Note, ...]] = field(default_factory=dict)
    stepped_ms: int = 0
    rehearsal: Rehearsal = field(default_factory=Rehearsal)
    ended_s: int | None = None
    end_reason: str = ""

    def answer(self, step: StepId, person: Designator) -> Answer | None:
        return self.answers.get(step, {}).get(person)

    def begun(self, task: TaskId) -> bool:
        """Whether a step of the task was marked or called complete, an action of it counted, or its start recorded."""
        return task in self.begun_tasks

    @property
    def begun_tasks(self) -> frozenset[TaskId]:
        counted = (step for step, actions in self.progress.counts.items() if actions)
        touched = (*self.done, *self.started, *self.progress.called, *counted)
        return frozenset(step.rpartition("/")[0] for step in touched)


EMPTY = State()
