"""Builds procedures in few words, for tests of the arithmetic and of runs. It reads no file and judges nothing."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from app.core.procedure import (
    After,
    Designator,
    Limits,
    Person,
    Procedure,
    Span,
    Step,
    Takes,
    Task,
    TaskId,
    Value,
    Window,
)

Who = str | tuple[Designator, ...]
Link = str | After


def link(text: Link, wait_s: int = 0) -> After:
    """``task`` or ``task/number`` as a prerequisite."""
    if isinstance(text, After):
        return text
    name, _, number = text.partition("/")
    return After(name, int(number) if number else None, wait_s)


def _people(who: Who) -> tuple[Designator, ...]:
    if isinstance(who, tuple):
        return who
    return (who,) if who else ()


def step(
    takes_s: int,
    do: str = "",
    *,
    who: Who | None = None,
    after: Sequence[Link] = (),
    not_before_s: int = 0,
    within: str | None = None,
    go: tuple[Designator, ...] = (),
    record: tuple[Value, ...] = (),
) -> Step:
    """A step that does not know its task yet: `task` gives it its id, and its people and window where it has none."""
    return Step(
        task="",
        number=0,
        do=do,
        takes=Takes(takes_s),
        who=("",) if who is None else _people(who),
        after=tuple(link(each) for each in after),
        not_before_s=not_before_s,
        within=within,
        go=go,
        record=record,
    )


def task(
    name: TaskId,
    steps: Sequence[Step | int] = (60,),
    *,
    who: Who = (),
    after: Sequence[Link] = (),
    not_before_s: int = 0,
    within: str | None = None,
    get_ahead: bool = False,
    may_put_off: bool = False,
) -> Task:
    """A task as a reader makes it: its `after` and `not_before` go into its first step, `within` and `who` into each.

    A bare number among `steps` is a step that takes so many seconds.
    """
    people, links = _people(who), tuple(link(each) for each in after)
    made = [
        _in_task(step(each) if isinstance(each, int) else each, name, number, people, within)
        for number, each in enumerate(steps, start=1)
    ]
    if made:
        first = made[0]
        since_s = max(first.not_before_s, not_before_s)
        made[0] = replace(first, after=(*links, *first.after), not_before_s=since_s)
    return Task(
        id=name,
        title=f"Task {name}",
        steps=tuple(made),
        who=people,
        after=links,
        not_before_s=not_before_s,
        within=within,
        get_ahead=get_ahead,
        may_put_off=may_put_off,
        worth=1 if may_put_off else 0,
    )


def _in_task(given: Step, name: TaskId, number: int, people: tuple[Designator, ...], within: str | None) -> Step:
    return replace(
        given,
        task=name,
        number=number,
        do=given.do or f"Do {name} {number}",
        who=people if given.who == ("",) else given.who,
        within=given.within or within,
    )


def procedure(
    *tasks: Task,
    finish_s: int | None = None,
    close_out: TaskId | None = None,
    windows: Mapping[str, Sequence[tuple[int, int]]] | None = None,
    least_lead_s: int = 0,
    on_plan_within_s: int = 60,
    crew: Sequence[Designator] = (),
) -> Procedure:
    """A procedure of these tasks. Without `crew`, everybody who is named, in the order they first appear."""
    named = [person for each in tasks for one in each.steps for person in (*one.who, *one.go)]
    return Procedure(
        id="made",
        title="Made",
        tasks=tasks,
        crew=tuple(Person(person) for person in (crew or dict.fromkeys(named))),
        limits=Limits(finish_s, close_out),
        windows=tuple(
            Window(name, tuple(Span(opens, closes) for opens, closes in spans))
            for name, spans in (windows or {}).items()
        ),
        least_lead_s=least_lead_s,
        on_plan_within_s=on_plan_within_s,
    )
