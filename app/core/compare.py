"""Two or more runs of one procedure beside each other: step by step and person by person. It judges nobody.

Runs may be of different revisions. A step is the same where its task and its words are, whatever its number: of the
same words several times in a task the first is the first, if all the runs have them equally often, else the number
has to be the same too. Who does it may differ. What has no match is told.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from app.core.as_run import AsRunStep, in_words
from app.core.debrief_again import worked
from app.core.debrief_times import PersonTimes, person_times
from app.core.events import Logged
from app.core.procedure import Designator, StepId, TaskId
from app.core.sample import sample
from app.core.situation import Situation

T = TypeVar("T")
_Key = tuple[TaskId, str, int | StepId]


@dataclass(frozen=True, slots=True)
class Ran:
    """One run as it is compared: where it stood at `at_s`, which is its end where `ended` is set. Seconds."""

    run: int
    revision: str
    kind: str
    ended: bool
    at_s: int
    plan_finish_s: int
    finish_s: int
    lead_s: int
    steps: tuple[AsRunStep, ...]
    people: tuple[PersonTimes, ...]


@dataclass(frozen=True, slots=True)
class Spread:
    """What `n` runs say of one number, seconds."""

    n: int
    least_s: int
    median_s: float
    most_s: int


@dataclass(frozen=True, slots=True)
class StepCell:
    """A step in one run.

    `shift_s`: done so much later than this run's own plan, below 0 earlier. `since_first_s`: later than in the first
    of the runs. None where there is no such number.
    """

    plan_finish_s: int | None
    finish_s: int | None
    took_s: int | None
    shift_s: int | None
    since_first_s: int | None
    state: str


@dataclass(frozen=True, slots=True)
class StepAcross:
    """A step that two or more of the runs have. `cells`: in the order of the runs, None where one has no such step."""

    id: StepId
    task: TaskId
    task_title: str
    do: str
    who: tuple[Designator, ...]
    cells: tuple[StepCell | None, ...]
    finish: Spread | None
    took: Spread | None
    shift: Spread | None


@dataclass(frozen=True, slots=True)
class PersonAcross:
    """A person in each run; None where a run has nobody of this designator."""

    designator: Designator
    cells: tuple[PersonTimes | None, ...]
    finish: Spread | None
    worked: Spread | None
    waited: Spread | None
    lead: Spread | None


@dataclass(frozen=True, slots=True)
class Unmatched:
    """A step that only one run has, and why it matches none of the others."""

    run: int
    id: StepId
    do: str
    why: str


@dataclass(frozen=True, slots=True)
class Comparing:
    """`runs` in the order asked for; steps and people in the order of the first run that has them."""

    runs: tuple[Ran, ...]
    steps: tuple[StepAcross, ...]
    people: tuple[PersonAcross, ...]
    unmatched: tuple[Unmatched, ...]
    finish: Spread | None
    lead: Spread | None


def ran(run: int, situation: Situation, log: Sequence[Logged]) -> Ran:
    """A run as it stands in this situation, whose log up to there is `log`."""
    done = worked(situation, log)
    return Ran(
        run=run,
        revision=situation.state.revision,
        kind=situation.state.kind,
        ended=situation.state.ended_s is not None,
        at_s=situation.at_s,
        plan_finish_s=situation.plan.end_s,
        finish_s=situation.projection.end_s,
        lead_s=situation.lead_s,
        steps=done.steps,
        people=person_times(situation, (*done.steps, *done.pieces)),
    )


def compare(runs: Sequence[Ran]) -> Comparing:
    """The runs beside each other; the first is the one that the others are measured against.

    Raises:
        ValueError: there is none.
    """
    if not runs:
        raise ValueError("there is nothing to compare")
    held = _held(runs)
    keys = dict.fromkeys(key for steps in held for key in steps)
    shared = [key for key in keys if sum(key in steps for steps in held) > 1]
    alone = [key for key in keys if sum(key in steps for steps in held) == 1] if len(runs) > 1 else []
    return Comparing(
        runs=tuple(runs),
        steps=tuple(_step([steps.get(key) for steps in held]) for key in (shared if len(runs) > 1 else keys)),
        people=_people(runs),
        unmatched=tuple(_unmatched(runs, held, key) for key in alone),
        finish=spread(each.finish_s for each in runs),
        lead=spread(each.lead_s for each in runs),
    )


def _held(runs: Sequence[Ran]) -> list[dict[_Key, AsRunStep]]:
    """Each run's steps by what makes them the same."""
    counts = [Counter((step.task, in_words(step.do)) for step in each.steps) for each in runs]
    found = []
    for each in runs:
        seen: Counter[tuple[TaskId, str]] = Counter()
        steps: dict[_Key, AsRunStep] = {}
        for step in each.steps:
            work = (step.task, in_words(step.do))
            alike = len({count[work] for count in counts if work in count}) == 1
            steps[(*work, seen[work] if alike else step.id)] = step
            seen[work] += 1
        found.append(steps)
    return found


def spread(values: Iterable[int | None]) -> Spread | None:
    """Of those that are there; None of none."""
    known = [value for value in values if value is not None]
    found = sample(known)
    return None if found is None else Spread(found.n, min(known), found.median, max(known))


def _step(rows: Sequence[AsRunStep | None]) -> StepAcross:
    about = next(row for row in rows if row is not None)
    first = rows[0]
    cells = [None if row is None else _cell(row, None if first is None else first.finish_s) for row in rows]
    return StepAcross(
        id=about.id,
        task=about.task,
        task_title=about.task_title,
        do=about.do,
        who=about.who,
        cells=tuple(cells),
        finish=_of(cells, lambda cell: cell.finish_s),
        took=_of(cells, lambda cell: cell.took_s),
        shift=_of(cells, lambda cell: cell.shift_s),
    )


def _cell(row: AsRunStep, first_s: int | None) -> StepCell:
    since_s = None if row.finish_s is None or first_s is None else row.finish_s - first_s
    state = "not taken" if row.state is None else str(row.state)
    return StepCell(row.plan_finish_s, row.finish_s, row.took_s, row.finish_shift_s, since_s, state)


def _of(cells: Iterable[T | None], number: Callable[[T], int | None]) -> Spread | None:
    return spread(number(cell) for cell in cells if cell is not None)


def _people(runs: Sequence[Ran]) -> tuple[PersonAcross, ...]:
    held = [{person.designator: person for person in each.people} for each in runs]
    found = []
    for designator in dict.fromkeys(name for people in held for name in people):
        cells = tuple(people.get(designator) for people in held)
        worked = [cell for cell in cells if cell is not None and cell.start_s is not None]
        found.append(
            PersonAcross(
                designator=designator,
                cells=cells,
                finish=_of(worked, lambda cell: cell.finish_s),
                worked=_of(worked, lambda cell: cell.worked_s),
                waited=_of(worked, lambda cell: cell.waited_s),
                lead=_of(cells, lambda cell: cell.lead_s),
            )
        )
    return tuple(found)


def _unmatched(runs: Sequence[Ran], held: Sequence[dict[_Key, AsRunStep]], key: _Key) -> Unmatched:
    run, row = next((each.run, steps[key]) for each, steps in zip(runs, held, strict=True) if key in steps)
    others = [
        f"run {each.run} has “{step.do}” there"
        for each in runs
        for step in each.steps
        if step.id == row.id and in_words(step.do) != in_words(row.do)
    ]
    return Unmatched(run, row.id, row.do, "; ".join(others) or "no other run has it")
