"""The plan told phase by phase: who does what in parallel, where the team comes together. It reads a plan, no run."""

from collections.abc import Iterator
from dataclasses import dataclass

from app.core.procedure import Designator, StepId, TaskId
from app.core.situation import Prepared, Situation
from app.core.state import EMPTY
from app.core.turn_back import turn_back

NEAR_S = 600
"""Two gatherings of the team less than this apart begin one phase. Our own choice, no source."""
LEAST_PART = 8
"""A handing on begins a phase only where phases of this part of the plan are left on either side. No source."""


@dataclass(frozen=True, slots=True)
class Work:
    """What one person does of one task in one phase, planned times in elapsed seconds."""

    task: TaskId
    steps: tuple[StepId, ...]
    start_s: int
    finish_s: int


@dataclass(frozen=True, slots=True)
class Phase:
    """`name` is what begins it. `work`: each person of the crew in file order, and "" for steps of nobody."""

    name: str
    start_s: int
    end_s: int
    work: tuple[tuple[Designator, tuple[Work, ...]], ...]


@dataclass(frozen=True, slots=True)
class Join:
    """At `start_s` people `who` begin `step`, having waited for `on` to finish `until`."""

    step: StepId
    start_s: int
    who: tuple[Designator, ...]
    on: tuple[Designator, ...]
    until: StepId


def phases(prepared: Prepared) -> tuple[Phase, ...]:
    """The plan cut where the team comes together.

    A phase begins at zero, and where the plan has a hold, a task of two or more people, or close-out begin; of those
    that lie within NEAR_S of the one before only the first counts. Between them a phase begins also where work is
    handed on, that is where somebody begins what they waited for others to finish, if at least an eighth of the plan
    lies between it and the next phase on either side. A step belongs to the phase in which the plan has it begin.
    """
    begins = _begins(prepared)
    ends = [*(start_s for start_s, _ in begins[1:]), prepared.plan.end_s]
    last = len(begins) - 1
    return tuple(
        Phase(name, start_s, end_s, _work(prepared, start_s, None if place == last else end_s))
        for place, ((start_s, name), end_s) in enumerate(zip(begins, ends, strict=True))
    )


def _begins(prepared: Prepared) -> list[tuple[int, str]]:
    """When each phase begins and what begins it, in order of time."""
    found = [(0, _first(prepared))]
    for start_s, name in sorted(_gatherings(prepared)):
        if start_s - found[-1][0] >= NEAR_S:
            found.append((start_s, name))
    least_s = max(NEAR_S, prepared.plan.end_s // LEAST_PART)
    for join in joins(prepared):
        if set(join.who) & set(join.on):
            continue  # The same people go on with something else.
        near = min(abs(join.start_s - start_s) for start_s, _ in (*found, (prepared.plan.end_s, "")))
        if near >= least_s:
            found.append((join.start_s, _title(prepared, join.step)))
    return sorted(found)


def _first(prepared: Prepared) -> str:
    """What begins at zero, or the first thing that begins at all."""
    nominal = _nominal(prepared)
    number = min(nominal, key=lambda each: (prepared.plan.times(each)[0], each), default=None)
    return "" if number is None else prepared.procedure.task(prepared.network.steps[number].task).title


def _nominal(prepared: Prepared) -> list[int]:
    return [number for number, nominal in enumerate(prepared.network.nominal) if nominal]


def _title(prepared: Prepared, step_id: StepId) -> str:
    """Of the task, if the step begins it; else with what the step is."""
    step = prepared.procedure.step(step_id)
    title = prepared.procedure.task(step.task).title
    return title if step.number == 1 else f"{title}: {step.do}"


def _gatherings(prepared: Prepared) -> Iterator[tuple[int, str]]:
    close_out = prepared.procedure.limits.close_out
    for number in _nominal(prepared):
        step = prepared.network.steps[number]
        task = prepared.procedure.task(step.task)
        start_s = prepared.plan.times(number)[0]
        if step.go:
            yield start_s, f"Hold: {step.do}"
        elif step.number == 1 and (len(task.people) > 1 or task.id == close_out):
            yield start_s, task.title


def joins(prepared: Prepared) -> tuple[Join, ...]:
    """Every step that waits for other people, with the prerequisite of others that the plan meets last, by time."""
    found = [join for number in _nominal(prepared) if (join := _join(prepared, number))]
    return tuple(sorted(found, key=lambda join: (join.start_s, join.step)))


def _join(prepared: Prepared, number: int) -> Join | None:
    step = prepared.network.steps[number]
    others = [
        (prepared.plan.times(earlier)[1] + wait_s, earlier)
        for earlier, wait_s in prepared.network.before[number]
        if set(prepared.network.steps[earlier].who) - set(step.who)
    ]
    if not others:
        return None
    until = prepared.network.steps[max(others)[1]]
    return Join(step.id, prepared.plan.times(number)[0], step.who, until.who, until.id)


def _work(prepared: Prepared, start_s: int, end_s: int | None) -> tuple[tuple[Designator, tuple[Work, ...]], ...]:
    """What begins from `start_s` on and before `end_s` (None: to the end), for each person."""
    network = prepared.network
    within = [
        number
        for number in _nominal(prepared)
        if start_s <= prepared.plan.times(number)[0] and (end_s is None or prepared.plan.times(number)[0] < end_s)
    ]
    rows = [
        (person, _tasks(prepared, [number for number in network.lists[seat] if number in within]))
        for seat, person in enumerate(network.crew)
    ]
    nobody = [number for number in within if not network.people[number]]
    return (*rows, ("", _tasks(prepared, nobody))) if nobody else tuple(rows)


def _tasks(prepared: Prepared, numbers: list[int]) -> tuple[Work, ...]:
    by_task: dict[TaskId, list[int]] = {}
    for number in numbers:
        by_task.setdefault(prepared.network.steps[number].task, []).append(number)
    return tuple(
        Work(
            task=task,
            steps=tuple(prepared.network.steps[number].id for number in steps),
            start_s=min(prepared.plan.times(number)[0] for number in steps),
            finish_s=max(prepared.plan.times(number)[1] for number in steps),
        )
        for task, steps in by_task.items()
    )


def planned_turn_back_s(prepared: Prepared) -> int | None:
    """The turn-back time before anything has happened; None where there is none."""
    found = turn_back(Situation(prepared, EMPTY, 0))
    return None if found is None else found.by_s
