"""The briefing sheet of a revision: phases, holds, joins, critical path, extra work, limits. It knows no run."""

from collections.abc import Iterator
from dataclasses import dataclass

from app.core.briefing import Join, Phase, Work, joins, phases, planned_turn_back_s
from app.core.procedure import Designator, Procedure, Round, StepId, Task, Value
from app.core.situation import Prepared
from app.core.times import clock, clock_short, duration
from app.web.charts import PlanChart, plan_chart
from app.web.views.step_progress import tolerance_words

MOST_COLUMNS = 5
"""A sheet of A4 or Letter takes so many people side by side; more make a second table."""
ROUNDS_SHOWN = 12


@dataclass(frozen=True, slots=True)
class Cell:
    """What one person does in one phase: (times, title, steps in words) of each task."""

    tasks: tuple[tuple[str, str, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class PhaseRow:
    number: int
    name: str
    times: str
    lasts: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class PhaseTable:
    """Some of the people, side by side."""

    people: tuple[tuple[Designator, str], ...]
    rows: tuple[PhaseRow, ...]


@dataclass(frozen=True, slots=True)
class Line:
    """A line of a list: when, who, what."""

    at: str
    who: str
    text: str


@dataclass(frozen=True, slots=True)
class Head:
    """What stands on top of every sheet."""

    revision: str
    short: str
    id: str
    title: str
    about: str
    zero: str
    finish: str
    limit: str
    room: str
    turn_back: str
    close_out: str


@dataclass(frozen=True, slots=True)
class Briefing:
    head: Head
    chart: PlanChart
    tables: tuple[PhaseTable, ...]
    holds: tuple[Line, ...]
    joins: tuple[Line, ...]
    critical: tuple[Line, ...]
    get_ahead: tuple[Line, ...]
    least_lead: str
    may_put_off: tuple[Line, ...]
    warnings: tuple[Line, ...]
    values: tuple[Line, ...]
    windows: tuple[Line, ...]
    rounds: tuple[Line, ...]
    supplies: tuple[Line, ...]
    tools: tuple[Line, ...]
    people: tuple[Designator, ...]


def head(prepared: Prepared, revision: str) -> Head:
    procedure = prepared.procedure
    limit_s, close_out = procedure.limits.finish_s, procedure.limits.close_out
    room_s = None if limit_s is None else limit_s - prepared.plan.end_s
    turn_back_s = planned_turn_back_s(prepared)
    return Head(
        revision=revision,
        short=revision[:12],
        id=procedure.id,
        title=procedure.title,
        about=procedure.about,
        zero=procedure.zero or "not said",
        finish=clock(prepared.plan.end_s),
        limit="none given" if limit_s is None else clock(limit_s),
        room="–" if room_s is None else duration(room_s) if room_s >= 0 else f"{duration(room_s)} past the limit",
        turn_back="–" if turn_back_s is None else clock(turn_back_s),
        close_out="none named" if close_out is None else procedure.task(close_out).title,
    )


def briefing(prepared: Prepared, revision: str) -> Briefing:
    procedure = prepared.procedure
    return Briefing(
        head=head(prepared, revision),
        chart=plan_chart(prepared),
        tables=_tables(prepared),
        holds=_holds(prepared),
        joins=tuple(_join(procedure, join) for join in joins(prepared)),
        critical=tuple(_critical(prepared)),
        get_ahead=tuple(_extra(procedure, task) for task in procedure.tasks if task.get_ahead),
        least_lead=duration(procedure.least_lead_s),
        may_put_off=tuple(_extra(procedure, task) for task in procedure.tasks if task.may_put_off),
        warnings=tuple(Line(step.id, who_words(step.who), step.warning) for step in procedure.steps if step.warning),
        values=tuple(
            Line(step.id, who_words(step.who), f"{value.name}: {range_words(value)}")
            for step in procedure.steps
            for value in step.record
        ),
        windows=tuple(
            Line(
                "",
                window.name,
                ", ".join(f"{clock_short(s.opens_s)} to {clock_short(s.closes_s)}" for s in window.spans),
            )
            for window in procedure.windows
        ),
        rounds=tuple(_round(each, prepared.plan.end_s) for each in procedure.rounds),
        supplies=tuple(
            Line("", who_words(each.who), f"{each.name}: keep {each.reserve:g} {each.unit} in reserve")
            for each in procedure.supplies
        ),
        tools=_tools(procedure),
        people=prepared.network.crew,
    )


def range_words(value: Value) -> str:
    """``14 to 17 turn``, or the unit alone."""
    return f"{tolerance_words(value)} {value.unit}".strip()


def who_words(who: tuple[Designator, ...]) -> str:
    return " and ".join(who) or "nobody"


def _tables(prepared: Prepared) -> tuple[PhaseTable, ...]:
    """The people in groups that fit on a sheet; those who have nothing in the plan are left out."""
    found = phases(prepared)
    does = {person.designator: person.does for person in prepared.procedure.crew}
    people = [who for who in (*prepared.network.crew, "") if any(dict(phase.work).get(who) for phase in found)]
    groups = [people[begin : begin + MOST_COLUMNS] for begin in range(0, len(people), MOST_COLUMNS)]
    return tuple(
        PhaseTable(
            tuple((who or "Nobody", does.get(who, "waits")) for who in group),
            tuple(_phase(prepared, number, phase, group) for number, phase in enumerate(found, 1)),
        )
        for group in groups
    )


def _phase(prepared: Prepared, number: int, phase: Phase, people: list[Designator]) -> PhaseRow:
    work = dict(phase.work)
    return PhaseRow(
        number=number,
        name=phase.name,
        times=f"{clock_short(phase.start_s)} to {clock_short(phase.end_s)}",
        lasts=duration(phase.end_s - phase.start_s),
        cells=tuple(Cell(tuple(_cell(prepared, each) for each in work.get(person, ()))) for person in people),
    )


def _cell(prepared: Prepared, work: Work) -> tuple[str, str, tuple[str, ...]]:
    task = prepared.procedure.task(work.task)
    times = f"{clock_short(work.start_s)}–{clock_short(work.finish_s)}"
    return times, task.title, tuple(_step(prepared, step) for step in work.steps)


def _step(prepared: Prepared, step_id: StepId) -> str:
    step = prepared.procedure.step(step_id)
    return f"{step.number}. {step.do}{f' (HOLD: {who_words(step.go)})' if step.go else ''}"


def _holds(prepared: Prepared) -> tuple[Line, ...]:
    network = prepared.network
    numbers = [number for number, step in enumerate(network.steps) if step.go and network.nominal[number]]
    numbers.sort(key=prepared.plan.times)
    return tuple(
        Line(
            clock_short(prepared.plan.times(number)[0]),
            who_words(network.steps[number].who),
            f"{network.steps[number].do} Go from {who_words(network.steps[number].go)}.",
        )
        for number in numbers
    )


def _join(procedure: Procedure, join: Join) -> Line:
    text = f"{procedure.step(join.step).do}: after {who_words(join.on)}, {procedure.step(join.until).do} ({join.until})"
    return Line(clock_short(join.start_s), who_words(join.who), text)


def _critical(prepared: Prepared) -> Iterator[Line]:
    plan = prepared.plan
    for number in prepared.critical:
        step = prepared.network.steps[number]
        times = f"{clock_short(plan.times(number)[0])}–{clock_short(plan.times(number)[1])}"
        yield Line(times, who_words(step.who), f"{step.do} ({step.id})")


def _extra(procedure: Procedure, task: Task) -> Line:
    """A get-ahead item, or a task that may be put off: how long, and what it waits for."""
    takes = duration(sum(step.takes.likely_s for step in task.steps))
    waits = [procedure.task(link.task).title for link in task.after]
    after = f"; after {', '.join(waits)}" if waits else ""
    worth = f"; worth {task.worth}" if task.worth else ""
    needs = f"; needs {', '.join(task.needs)}" if task.needs else ""
    return Line(takes, who_words(task.people), f"{task.title}{worth}{after}{needs}")


def _round(one: Round, until_s: int) -> Line:
    due = [clock_short(at_s) for at_s in range(one.every_s, until_s + 1, one.every_s)]
    more = f" and {len(due) - ROUNDS_SHOWN} more" if len(due) > ROUNDS_SHOWN else ""
    by_plan = f"; by plan at {', '.join(due[:ROUNDS_SHOWN])}{more}" if due else ""
    return Line(f"every {duration(one.every_s)}", who_words(one.who), f"{one.name}: {one.asks}{by_plan}")


def _tools(procedure: Procedure) -> tuple[Line, ...]:
    return tuple(
        Line("", tool, ", ".join(task.title for task in procedure.tasks if tool in task.needs) or "no task names it")
        for tool in procedure.tools
    )
