"""The Plan: the nominal timeline of a revision, and all that its file says, before anything has happened."""

from dataclasses import dataclass

from app.core.procedure import After, Procedure, Step, Task, Value
from app.core.situation import Prepared
from app.core.times import clock, duration
from app.web.charts import PlanChart, plan_chart
from app.web.views.step_words import Signal, alerts, planned_words


@dataclass(frozen=True, slots=True)
class PlanStep:
    id: str
    text: str
    who: str
    start: str
    finish: str
    late_finish: str
    takes: str
    slack: str
    critical: bool
    marks: tuple[str, ...]
    alerts: tuple[Signal, ...]


@dataclass(frozen=True, slots=True)
class PlanTask:
    """`tags` are words such as ``get-ahead item`` or ``may be put off, worth 4``; times are dashes for extra work."""

    id: str
    title: str
    tags: tuple[str, ...]
    steps: tuple[PlanStep, ...]


@dataclass(frozen=True, slots=True)
class PlanPage:
    revision: str
    id: str
    title: str
    about: str
    zero: str
    finish: str
    limit: str
    room: str
    short: bool
    close_out: str
    critical: tuple[str, ...]
    chart: PlanChart
    tasks: tuple[PlanTask, ...]
    windows: tuple[tuple[str, str], ...]
    rounds: tuple[str, ...]
    supplies: tuple[str, ...]
    tools: str
    least_lead: str
    crew: tuple[tuple[str, str], ...]
    text: str


def plan_page(prepared: Prepared, revision: str, text: str) -> PlanPage:
    procedure = prepared.procedure
    limit_s = procedure.limits.finish_s
    room_s = None if limit_s is None else limit_s - prepared.plan.end_s
    close_out = procedure.limits.close_out
    return PlanPage(
        revision=revision,
        id=procedure.id,
        title=procedure.title,
        about=procedure.about,
        zero=procedure.zero,
        finish=clock(prepared.plan.end_s),
        limit="none given" if limit_s is None else clock(limit_s),
        room="" if room_s is None else duration(room_s) if room_s >= 0 else f"{duration(room_s)} past the limit",
        short=room_s is not None and room_s < 0,
        close_out="" if close_out is None else procedure.task(close_out).title,
        critical=tuple(prepared.network.steps[number].id for number in prepared.critical),
        chart=plan_chart(prepared),
        tasks=tuple(_task(prepared, task) for task in procedure.tasks),
        windows=tuple(
            (window.name, ", ".join(f"{clock(s.opens_s)} to {clock(s.closes_s)}" for s in window.spans))
            for window in procedure.windows
        ),
        rounds=tuple(
            f"{each.name}: {each.asks} {' and '.join(each.who)}, every {duration(each.every_s)}"
            for each in procedure.rounds
        ),
        supplies=tuple(
            f"{each.name}: {' and '.join(each.who)}, keep {each.reserve:g} {each.unit} in reserve"
            for each in procedure.supplies
        ),
        tools=", ".join(procedure.tools),
        least_lead=duration(procedure.least_lead_s),
        crew=tuple((person.designator, person.does) for person in procedure.crew),
        text=text,
    )


def _task(prepared: Prepared, task: Task) -> PlanTask:
    tags = []
    if task.get_ahead:
        tags.append("get-ahead item, outside the plan")
    if task.may_put_off:
        tags.append(f"may be put off, worth {task.worth}" if task.worth else "may be put off")
    if task.where:
        tags.append(f"at {task.where}")
    if task.needs:
        tags.append(f"needs {', '.join(task.needs)}")
    return PlanTask(task.id, task.title, tuple(tags), tuple(_step(prepared, step) for step in task.steps))


def _step(prepared: Prepared, step: Step) -> PlanStep:
    number = prepared.network.index[step.id]
    row = PlanStep(
        id=step.id,
        text=step.do,
        who=" and ".join(step.who) or "nobody",
        start="–",
        finish="–",
        late_finish="–",
        takes=planned_words(step),
        slack="–",
        critical=False,
        marks=_marks(prepared.procedure, step),
        alerts=alerts(step),
    )
    return _timed(prepared, number, row) if prepared.network.nominal[number] else row


def _timed(prepared: Prepared, number: int, row: PlanStep) -> PlanStep:
    start_s, finish_s = prepared.plan.times(number)
    float_s = prepared.late.float_s(prepared.plan, number)
    late_finish_s = prepared.late.finish_s[number]
    return PlanStep(
        id=row.id,
        text=row.text,
        who=row.who,
        start=clock(start_s),
        finish=clock(finish_s),
        late_finish="–" if late_finish_s is None else clock(late_finish_s),
        takes=row.takes,
        slack=duration(float_s),
        critical=float_s == 0,
        marks=row.marks,
        alerts=row.alerts,
    )


def _marks(procedure: Procedure, step: Step) -> tuple[str, ...]:
    """What else the file says of a step, in words."""
    found = [_after_words(procedure, link) for link in step.after]
    if step.not_before_s:
        found.append(f"not before {clock(step.not_before_s)}")
    if step.within:
        found.append(f"within {step.within}")
    if step.go:
        found.append(f"hold: go from {' and '.join(step.go)}")
    found += [_value_words(value) for value in step.record]
    if step.count:
        found.append(f"{step.count} like actions")
    if step.confirm_by:
        found.append(f"confirmed by {step.confirm_by}")
    return tuple(found)


def _after_words(procedure: Procedure, link: After) -> str:
    wait = f", then {duration(link.wait_s)} of waiting" if link.wait_s else ""
    what = procedure.task(link.task).title if link.step is None else f"{link.task}/{link.step}"
    return f"after {what}{wait}"


def _value_words(value: Value) -> str:
    unit = f" {value.unit}" if value.unit else ""
    if value.low is None and value.high is None:
        return f"record {value.name}{unit and f' in{unit}'}"
    low = "" if value.low is None else f" from {value.low:g}"
    high = "" if value.high is None else f" to {value.high:g}"
    return f"record {value.name},{low}{high}{unit}"
