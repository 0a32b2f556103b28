"""One person's list as it is printed: each step with room for what is written by hand. It knows no run."""

from collections.abc import Iterator
from dataclasses import dataclass

from app.core.procedure import Designator, Task
from app.core.situation import Prepared
from app.core.times import clock, clock_short, duration
from app.web.views.briefing import Head, head, range_words, who_words
from app.web.views.step_words import Signal, alerts, planned_words


@dataclass(frozen=True, slots=True)
class Blank:
    """A value to write down: its name, unit and tolerance."""

    name: str
    words: str


@dataclass(frozen=True, slots=True)
class PaperStep:
    """`alerts`: warnings before cautions before notes; `go`, `boxes`: boxes to tick."""

    id: str
    number: int
    start: str
    takes: str
    text: str
    together: str
    alerts: tuple[Signal, ...]
    waits: tuple[str, ...]
    go: tuple[Designator, ...]
    blanks: tuple[Blank, ...]
    boxes: tuple[int, ...]
    confirm_by: str


@dataclass(frozen=True, slots=True)
class PaperTask:
    title: str
    tags: tuple[str, ...]
    steps: tuple[PaperStep, ...]


@dataclass(frozen=True, slots=True)
class PaperList:
    person: Designator
    does: str
    tasks: tuple[PaperTask, ...]
    rounds: tuple[str, ...]
    supplies: tuple[str, ...]
    asked: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PaperLists:
    head: Head
    lists: tuple[PaperList, ...]


def paper_lists(prepared: Prepared, revision: str, people: tuple[Designator, ...]) -> PaperLists:
    return PaperLists(head(prepared, revision), tuple(_list(prepared, person) for person in people))


def _list(prepared: Prepared, person: Designator) -> PaperList:
    """Nominal work in the order of the list, then the get-ahead items that this person may be given."""
    procedure = prepared.procedure
    does = next((one.does for one in procedure.crew if one.designator == person), "")
    own = [task for task in procedure.tasks if person in task.people]
    ordered = [task for task in own if not task.get_ahead] + [task for task in own if task.get_ahead]
    return PaperList(
        person=person,
        does=does,
        tasks=tuple(_paper_task(prepared, task, person) for task in ordered),
        rounds=tuple(
            f"{one.name}: {one.asks} Every {duration(one.every_s)}." for one in procedure.rounds if person in one.who
        ),
        supplies=tuple(f"{one.name} ({one.unit})" for one in procedure.supplies if person in one.who),
        asked=tuple(_asked(prepared, person)),
    )


def _asked(prepared: Prepared, person: Designator) -> Iterator[str]:
    """What steps of others ask of this person, by planned time: a go, or to confirm."""
    network = prepared.network
    nominal = [number for number, is_in in enumerate(network.nominal) if is_in]
    for number in sorted(nominal, key=prepared.plan.times):
        step = network.steps[number]
        at = f"{clock_short(prepared.plan.times(number)[0])}, {who_words(step.who)}: {step.do} ({step.id})"
        if person in step.go and person not in step.who:
            yield f"Go or no-go: {at}"
        if step.confirm_by == person:
            yield f"Confirm: {at}"


def _paper_task(prepared: Prepared, task: Task, person: Designator) -> PaperTask:
    tags = []
    if task.get_ahead:
        tags.append("GET-AHEAD ITEM: only when the flight lead gives it")
    if task.may_put_off:
        tags.append("may be put off by the flight lead")
    if task.where:
        tags.append(f"at {task.where}")
    if task.needs:
        tags.append(f"needs {', '.join(task.needs)}")
    steps = tuple(
        _paper_step(prepared, number, person)
        for number, step in enumerate(prepared.network.steps)
        if step.task == task.id and person in step.who
    )
    return PaperTask(task.title, tuple(tags), steps)


def _paper_step(prepared: Prepared, number: int, person: Designator) -> PaperStep:
    step = prepared.network.steps[number]
    others = tuple(other for other in step.who if other != person)
    return PaperStep(
        id=step.id,
        number=step.number,
        start=clock_short(prepared.plan.times(number)[0]) if prepared.network.nominal[number] else "–",
        takes=planned_words(step),
        text=step.do,
        together=f"with {who_words(others)}" if others else "",
        alerts=alerts(step),
        waits=tuple(_waits(prepared, number)),
        go=step.go,
        blanks=tuple(Blank(value.name, range_words(value)) for value in step.record),
        boxes=tuple(range(1, (step.count or 0) + 1)),
        confirm_by=step.confirm_by or "",
    )


def _waits(prepared: Prepared, number: int) -> Iterator[str]:
    """What others must have done first, and when it may begin, in words."""
    step = prepared.network.steps[number]
    for link in step.after:
        wait = f" and {duration(link.wait_s)} more" if link.wait_s else ""
        task = prepared.procedure.task(link.task)
        what = task.title if link.step is None else f"{task.title}, step {link.step}"
        people = task.people if link.step is None else prepared.procedure.step(f"{link.task}/{link.step}").who
        whose = "" if set(people) <= set(step.who) else f"{who_words(people)}: "
        yield f"after {whose}{what}{wait}"
    if step.not_before_s:
        yield f"not before {clock(step.not_before_s)}"
    if step.within:
        yield f"within {step.within}"
