"""The debrief's tables of steps, tasks and people, in words. It computes nothing but lengths of time."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from app.core.as_run import AsRunStep
from app.core.debrief_times import PersonTimes, TaskTimes
from app.core.times import clock, duration
from app.web.views.figures import Lead, lead

NONE = "–"


@dataclass(frozen=True, slots=True)
class Shift:
    """How much later or earlier than planned, in words, with the tone of a lead."""

    words: str
    tone: str
    sign: str


@dataclass(frozen=True, slots=True)
class StepRow:
    """`start` is as it was recorded, or worked out where `worked_out` is set."""

    id: str
    do: str
    who: str
    plan: str
    start: str
    worked_out: bool
    finish: str
    took: str
    takes: str
    shift: Shift | None
    state: str
    by: str


@dataclass(frozen=True, slots=True)
class TaskRow:
    """A task with its steps under it."""

    id: str
    title: str
    who: str
    plan: str
    actual: str
    shift: Shift | None
    state: str
    steps: tuple[StepRow, ...]


@dataclass(frozen=True, slots=True)
class PersonRow:
    designator: str
    does: str
    plan: str
    actual: str
    work: str
    worked: str
    waited: str
    steps: str
    lead: Lead


def shift(late_s: int | None, within_s: int = 0) -> Shift | None:
    """``6m 10s later``, ``45s earlier`` or ``as planned``."""
    if late_s is None:
        return None
    tone = lead(-late_s, within_s)
    words = "as planned" if tone.tone == "even" else f"{duration(late_s)} {'later' if late_s > 0 else 'earlier'}"
    return Shift(words, tone.tone, tone.sign)


def span(start_s: int | None, finish_s: int | None) -> str:
    """``00:10:00 to 00:20:00``; what is not known is a dash."""
    if start_s is None and finish_s is None:
        return NONE
    return f"{clock_or_none(start_s)} to {clock_or_none(finish_s)}"


def clock_or_none(at_s: int | None) -> str:
    return NONE if at_s is None else clock(at_s)


def duration_or_none(seconds: int | None) -> str:
    return NONE if seconds is None else duration(seconds)


def task_rows(tasks: Sequence[TaskTimes], steps: Sequence[AsRunStep], within_s: int) -> tuple[TaskRow, ...]:
    return tuple(
        TaskRow(
            id=task.id,
            title=task.title,
            who=" and ".join(task.who) or "nobody",
            plan=span(task.plan_start_s, task.plan_finish_s),
            actual=span(task.start_s, task.finish_s),
            shift=shift(task.finish_shift_s, within_s),
            state=task.state if task.state != "begun" else f"begun, {task.done} of {task.of} steps done",
            steps=tuple(_steps(task, steps, within_s)),
        )
        for task in tasks
    )


def _steps(task: TaskTimes, steps: Sequence[AsRunStep], within_s: int) -> Iterator[StepRow]:
    for step in steps:
        if step.task == task.id:
            yield StepRow(
                id=step.id,
                do=step.do,
                who=" and ".join(step.who) or "nobody",
                plan=span(step.plan_start_s, step.plan_finish_s),
                start=clock_or_none(step.start_s),
                worked_out=step.start_s is not None and not step.start_known,
                finish=clock_or_none(step.finish_s),
                took=duration_or_none(step.took_s),
                takes=duration(step.takes_s),
                shift=shift(step.finish_shift_s, within_s),
                state="not taken" if step.state is None else str(step.state),
                by=step.by,
            )


def person_rows(people: Sequence[PersonTimes], does: dict[str, str], within_s: int) -> tuple[PersonRow, ...]:
    return tuple(
        PersonRow(
            designator=person.designator,
            does=does.get(person.designator, ""),
            plan=span(person.plan_start_s, person.plan_finish_s),
            actual=span(person.start_s, person.finish_s),
            work=duration(person.plan_work_s),
            worked=NONE if person.start_s is None else duration(person.worked_s),
            waited=NONE if person.start_s is None else duration(person.waited_s),
            steps=f"{person.done} of {person.of}",
            lead=lead(person.lead_s, within_s),
        )
        for person in people
    )
