"""Planned against actual, per task and per person, from the steps as they were run. It decides nothing."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from app.core.as_run import AsRunStep
from app.core.procedure import Designator, Task, TaskId
from app.core.situation import Situation, StepState


@dataclass(frozen=True, slots=True)
class TaskTimes:
    """A task, from the first start to the last finish. All in elapsed seconds.

    Attributes:
        plan_start_s, plan_finish_s: of the nominal timeline; None for get-ahead items and added steps.
        start_s: None while no step of it is done or under way. finish_s: None until none of it is left to do.
        done, of: how many of its steps are done, of those that are in the run.
        state: ``done``, ``put off``, ``not needed``, ``begun``, ``not begun``, or ``not taken`` for a get-ahead item.
    """

    id: TaskId
    title: str
    who: tuple[Designator, ...]
    plan_start_s: int | None
    plan_finish_s: int | None
    start_s: int | None
    finish_s: int | None
    done: int
    of: int
    state: str

    @property
    def finish_shift_s(self) -> int | None:
        """By how much it was done later than planned; below 0 earlier."""
        return None if self.finish_s is None or self.plan_finish_s is None else self.finish_s - self.plan_finish_s


@dataclass(frozen=True, slots=True)
class PersonTimes:
    """What one person did. All in seconds.

    Attributes:
        plan_start_s, plan_finish_s, plan_work_s: their nominal steps; None and 0 for somebody who has none.
        start_s, finish_s: their first start and their last finish, a step under way counted up to now.
        worked_s: the time within that in which a step of theirs was on, steps at one time counted once.
        waited_s: the rest of it. lead_s: at the end.
    """

    designator: Designator
    plan_start_s: int | None
    plan_finish_s: int | None
    plan_work_s: int
    start_s: int | None
    finish_s: int | None
    worked_s: int
    waited_s: int
    done: int
    of: int
    lead_s: int


def task_times(situation: Situation, steps: Sequence[AsRunStep]) -> tuple[TaskTimes, ...]:
    """Every task in file order, then the steps that were added."""
    of_task: dict[TaskId, list[AsRunStep]] = {}
    for step in steps:
        of_task.setdefault(step.task, []).append(step)
    return tuple(_task(task, of_task[task.id]) for task in situation.procedure.tasks)


def _task(task: Task, steps: Sequence[AsRunStep]) -> TaskTimes:
    inside = [step for step in steps if step.state not in (None, StepState.PUT_OFF, StepState.NOT_NEEDED)]
    done = [step for step in inside if step.state is StepState.DONE]
    return TaskTimes(
        id=task.id,
        title=task.title,
        who=task.people,
        plan_start_s=min((step.plan_start_s for step in steps if step.plan_start_s is not None), default=None),
        plan_finish_s=max((step.plan_finish_s for step in steps if step.plan_finish_s is not None), default=None),
        start_s=min((step.start_s for step in inside if step.start_s is not None), default=None),
        finish_s=max((step.finish_s or 0 for step in done), default=None) if len(done) == len(inside) else None,
        done=len(done),
        of=len(inside),
        state=_state(steps, len(done), len(inside)),
    )


def _state(steps: Sequence[AsRunStep], done: int, inside: int) -> str:
    if inside:
        begun = any(step.start_s is not None for step in steps)
        return "done" if done == inside else "begun" if begun else "not begun"
    states = {step.state for step in steps}
    if None in states:
        return "not taken"
    return str(StepState.PUT_OFF if StepState.PUT_OFF in states else StepState.NOT_NEEDED)


def person_times(situation: Situation, steps: Sequence[AsRunStep]) -> tuple[PersonTimes, ...]:
    """Every person in file order. A step that stands there twice was done twice: both count as worked, once as done."""
    return tuple(_person(situation, view.designator, view.lead_s, steps) for view in situation.crew)


def _person(situation: Situation, person: Designator, lead_s: int, steps: Sequence[AsRunStep]) -> PersonTimes:
    own = [step for step in steps if person in step.who and step.state is not None]
    spans = [
        (step.start_s, situation.at_s if step.finish_s is None else step.finish_s)
        for step in own
        if step.start_s is not None and (step.finish_s is not None or step.start_s <= situation.at_s)
    ]
    first_s, last_s = min((s for s, _ in spans), default=None), max((f for _, f in spans), default=None)
    worked_s = covered_s(spans)
    rows = {step.id: step for step in reversed(own)}
    planned = [(s.plan_start_s, s.plan_finish_s) for s in rows.values() if s.plan_start_s is not None]
    return PersonTimes(
        designator=person,
        plan_start_s=min((starts for starts, _ in planned), default=None),
        plan_finish_s=max((ends for _, ends in planned if ends is not None), default=None),
        plan_work_s=sum(step.takes_s for step in rows.values() if step.plan_start_s is not None),
        start_s=first_s,
        finish_s=last_s,
        worked_s=worked_s,
        waited_s=0 if first_s is None or last_s is None else last_s - first_s - worked_s,
        done=sum(1 for step in rows.values() if step.state is StepState.DONE),
        of=sum(1 for step in rows.values() if step.state not in (StepState.PUT_OFF, StepState.NOT_NEEDED)),
        lead_s=lead_s,
    )


def covered_s(spans: Iterable[tuple[int, int]]) -> int:
    """How many seconds lie in at least one of these spans."""
    total, reached = 0, 0
    for begin, end in sorted(spans):
        total += max(0, end - max(begin, reached))
        reached = max(reached, end)
    return total
