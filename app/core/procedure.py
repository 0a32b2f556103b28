"""The procedure as frozen values. It holds what a file says; `checking` says whether that is sound."""

from dataclasses import dataclass, field

StepId = str
"""``task/number``, the number counting from 1 in file order: ``shut-valves/2``."""

TaskId = str
Designator = str


@dataclass(frozen=True, slots=True)
class Person:
    """Someone, or a console, that holds a step list."""

    designator: Designator
    does: str = ""


@dataclass(frozen=True, slots=True)
class Span:
    """One opening of a window, elapsed seconds: a step fits when it starts from `opens_s` on and ends by `closes_s`."""

    opens_s: int
    closes_s: int


@dataclass(frozen=True, slots=True)
class Window:
    name: str
    spans: tuple[Span, ...]


@dataclass(frozen=True, slots=True)
class Round:
    """A check that comes back every so often."""

    name: str
    asks: str
    who: tuple[Designator, ...]
    every_s: int


@dataclass(frozen=True, slots=True)
class Supply:
    """Something that runs out. `reserve` is in `unit`."""

    name: str
    who: tuple[Designator, ...]
    unit: str
    reserve: float


@dataclass(frozen=True, slots=True)
class Value:
    """A value to record at a step, in `unit`; `low` and `high` bound what is in tolerance."""

    name: str
    unit: str
    low: float | None = None
    high: float | None = None

    def in_tolerance(self, reading: float) -> bool:
        return (self.low is None or reading >= self.low) and (self.high is None or reading <= self.high)


@dataclass(frozen=True, slots=True)
class Takes:
    """How long a step takes, seconds. All three points or only the likely one."""

    likely_s: int
    optimistic_s: int | None = None
    pessimistic_s: int | None = None


@dataclass(frozen=True, slots=True)
class After:
    """A prerequisite: the whole task, or one step of it when `step` is given, and a wait after its finish."""

    task: TaskId
    step: int | None = None
    wait_s: int = 0


@dataclass(frozen=True, slots=True)
class Step:
    """The smallest thing that is marked. `who` is already resolved (the step's own, else its task's)."""

    task: TaskId
    number: int
    do: str
    takes: Takes
    who: tuple[Designator, ...] = ()
    after: tuple[After, ...] = ()
    not_before_s: int = 0
    within: str | None = None
    warning: str = ""
    caution: str = ""
    note: str = ""
    go: tuple[Designator, ...] = ()
    record: tuple[Value, ...] = ()
    count: int | None = None
    confirm_by: Designator | None = None

    @property
    def id(self) -> StepId:
        return f"{self.task}/{self.number}"


@dataclass(frozen=True, slots=True)
class Task:
    """A block of steps that follow one another.

    The task's `after` and `not_before` are already carried by its first step and `within` by each step, so the
    steps alone say everything that the arithmetic needs. They stand here too, for showing. `added`: it came into being
    during a run; no file says it, and the plan does not know it.
    """

    id: TaskId
    title: str
    steps: tuple[Step, ...]
    who: tuple[Designator, ...] = ()
    after: tuple[After, ...] = ()
    not_before_s: int = 0
    within: str | None = None
    where: str = ""
    needs: tuple[str, ...] = ()
    get_ahead: bool = False
    may_put_off: bool = False
    worth: int = 0
    added: bool = False

    @property
    def people(self) -> tuple[Designator, ...]:
        """Everyone with a step in this task, in the order they first appear."""
        return tuple(dict.fromkeys(person for step in self.steps for person in step.who))


@dataclass(frozen=True, slots=True)
class Limits:
    finish_s: int | None = None
    close_out: TaskId | None = None


@dataclass(frozen=True, slots=True)
class Procedure:
    """A whole procedure file. Tuples keep file order, which is each person's order of work."""

    id: str
    title: str
    tasks: tuple[Task, ...]
    about: str = ""
    zero: str = ""
    crew: tuple[Person, ...] = ()
    limits: Limits = field(default_factory=Limits)
    windows: tuple[Window, ...] = ()
    supplies: tuple[Supply, ...] = ()
    rounds: tuple[Round, ...] = ()
    tools: tuple[str, ...] = ()
    least_lead_s: int = 0
    on_plan_within_s: int = 60
    spread: tuple[float, float, float] = (0.8, 1.0, 1.6)

    def task(self, task: TaskId) -> Task:
        """Raises KeyError for an unknown task."""
        for candidate in self.tasks:
            if candidate.id == task:
                return candidate
        raise KeyError(task)

    def step(self, step: StepId) -> Step:
        """Raises KeyError for an unknown step."""
        task, _, number = step.rpartition("/")
        for candidate in self.task(task).steps:
            if str(candidate.number) == number:
                return candidate
        raise KeyError(step)

    @property
    def steps(self) -> tuple[Step, ...]:
        return tuple(step for task in self.tasks for step in task.steps)


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with a procedure, where, and how to mend it.

    `path` leads to the place in the file's tree, for example ``("tasks", 3, "steps", 0, "takes")``; `reading`
    turns it into line and column. A `remark` is worth knowing but does not stop the file from loading.
    """

    path: tuple[str | int, ...]
    what: str
    remedy: str
    remark: bool = False
