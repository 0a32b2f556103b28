"""A procedure as the rows of the flat table (`reading.columns`). It writes no file and judges nothing."""

from app.core.checking_names import own_after
from app.core.numbers import digits
from app.core.procedure import After, Procedure, Round, Step, Supply, Takes, Task, Value, Window
from app.reading.cells import BETWEEN
from app.reading.columns import NOBODY

CellValue = str | int | float
Row = dict[str, CellValue]
"""What a row holds, by column; an empty cell is left out. Numbers are numbers, all else is text."""

_DEFAULT = Procedure("", "", ())


def rows_of(procedure: Procedure) -> list[Row]:
    """One row for the procedure and each person, window, supply, round, tool, task and step, in the file's order."""
    rows = [_top(procedure)]
    rows += [_row("crew", person.designator, text=person.does) for person in procedure.crew]
    rows += [_row("window", window.name, openings=_openings(window)) for window in procedure.windows]
    rows += [_supply(supply) for supply in procedure.supplies]
    rows += [_round(one) for one in procedure.rounds]
    rows += [_row("tool", tool) for tool in procedure.tools]
    for task in procedure.tasks:
        rows += [_task(task), *(_step(task, step) for step in task.steps)]
    return rows


def _row(kind: str, name: str, **cells: CellValue | None) -> Row:
    return {"row": kind, "name": name, **{key: value for key, value in cells.items() if value not in (None, "")}}


def _top(procedure: Procedure) -> Row:
    limits = procedure.limits
    return _row(
        "procedure",
        procedure.id,
        text=procedure.title,
        about=procedure.about,
        zero=procedure.zero,
        finish=None if limits.finish_s is None else clock_text(limits.finish_s),
        close_out=limits.close_out,
        least_lead=_unless(procedure.least_lead_s, _DEFAULT.least_lead_s),
        on_plan_within=_unless(procedure.on_plan_within_s, _DEFAULT.on_plan_within_s),
        spread=None if procedure.spread == _DEFAULT.spread else " | ".join(map(digits, procedure.spread)),
    )


def _unless(seconds: int, default: int) -> str | None:
    return None if seconds == default else duration_text(seconds)


def _openings(window: Window) -> str:
    return "; ".join(f"{clock_text(span.opens_s)}{BETWEEN}{clock_text(span.closes_s)}" for span in window.spans)


def _supply(supply: Supply) -> Row:
    return _row("supply", supply.name, who=_names(supply.who), unit=supply.unit, reserve=plain(supply.reserve))


def _round(one: Round) -> Row:
    return _row("round", one.name, text=one.asks, who=_names(one.who), every=duration_text(one.every_s))


def _task(task: Task) -> Row:
    return _row(
        "task",
        task.id,
        text=task.title,
        who=_names(task.who),
        after=_links(task.after),
        not_before=clock_text(task.not_before_s) if task.not_before_s else None,
        within=task.within,
        where=task.where,
        needs=_items(task.needs),
        get_ahead="true" if task.get_ahead else None,
        may_put_off="true" if task.may_put_off else None,
        worth=task.worth or None,
    )


def _step(task: Task, step: Step) -> Row:
    """What the step has of its own; what its task gives it stands in the task's row."""
    carried_s = task.not_before_s if step.number == 1 else 0
    return _row(
        "step",
        step.task,
        text=step.do,
        who=None if step.who == task.who else _names(step.who) or NOBODY,
        takes=_takes(step.takes),
        after=_links(own_after(task, step)),
        not_before=clock_text(step.not_before_s) if step.not_before_s > carried_s else None,
        within=None if step.within == task.within else step.within,
        warning=step.warning,
        caution=step.caution,
        note=step.note,
        hold=_names(step.go),
        record="; ".join(_recorded(value) for value in step.record),
        count=step.count,
        confirm_by=step.confirm_by,
    )


def _names(names: tuple[str, ...]) -> str:
    return "; ".join(names)


def _items(items: tuple[str, ...]) -> str:
    return "; ".join(_quoted_if(item, ";") for item in items)


def _quoted_if(text: str, signs: str) -> str:
    """In double quotes if it begins with one, or holds a sign that would end it."""
    if text.startswith('"') or any(sign in text for sign in signs):
        return '"' + text.replace('"', '""') + '"'
    return text


def _links(links: tuple[After, ...]) -> str:
    return "; ".join(_link(link) for link in links)


def _link(link: After) -> str:
    name = link.task if link.step is None else f"{link.task}/{link.step}"
    return f"{name} + {duration_text(link.wait_s)}" if link.wait_s else name


def _takes(takes: Takes) -> str:
    low, high = takes.optimistic_s, takes.pessimistic_s
    points = (takes.likely_s,) if low is None or high is None else (low, takes.likely_s, high)
    return " | ".join(duration_text(point) for point in points)


def _recorded(value: Value) -> str:
    low, high = ("" if end is None else digits(end) for end in (value.low, value.high))
    tolerance = f" {low}{BETWEEN}{high}" if low or high else ""
    return f"{_quoted_if(value.name, ';[')} [{_quoted_if(value.unit, ';]')}]{tolerance}"


def duration_text(seconds: int) -> str:
    """``1 h 30 min``, ``45 s``, ``0 s``: as the reader takes it."""
    parts = ((seconds // 3600, "h"), (seconds // 60 % 60, "min"), (seconds % 60, "s"))
    return " ".join(f"{count} {unit}" for count, unit in parts if count) or "0 s"


def clock_text(seconds: int) -> str:
    """``4:50``, and ``4:50:30`` where there are seconds."""
    said = f"{seconds // 3600}:{seconds // 60 % 60:02d}"
    return f"{said}:{seconds % 60:02d}" if seconds % 60 else said


def plain(number: float) -> int | float:
    """The same number, whole where it is."""
    return int(number) if number.is_integer() else number
