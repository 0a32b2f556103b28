"""My list: one person's steps, large, with what to wait for and the cautions first."""

from dataclasses import dataclass

from app.core.procedure import Designator, StepId, TaskId
from app.core.situation import Situation
from app.core.times import clock
from app.web.views.desk import Band, NewKey, band
from app.web.views.figures import Lead, step_lead
from app.web.views.step_words import Signal, notes_on, signals, tag_words, takes_words, waits_for_others, waits_words


@dataclass(frozen=True, slots=True)
class ListedStep:
    """A step of the list: when it was done, or the name of its start figure; `lead` is its finish against the plan.

    `lead` is None for taken work, which has no plan, and for what was put off or is not needed. `here`: the next one.
    """

    id: StepId
    text: str
    state: str
    done_at: str | None
    fig: str
    takes: str
    together: str
    lead: Lead | None
    waits: str
    signals: tuple[Signal, ...]
    here: bool
    noted: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ListedTask:
    title: str
    where: str
    needs: str
    tag: str
    steps: tuple[ListedStep, ...]


@dataclass(frozen=True, slots=True)
class MyList:
    person: Designator
    does: str
    band: Band
    others: tuple[Designator, ...]
    tasks: tuple[ListedTask, ...]
    done: int
    total: int


def my_list(situation: Situation, person: Designator, new_key: NewKey) -> MyList:
    """Raises ValueError for somebody who is not of the crew."""
    own = band(situation, person, new_key)
    seat = situation.network.crew.index(person)
    numbers = situation.network.lists[seat]
    of_task: dict[TaskId, list[int]] = {}
    for number, step in enumerate(situation.network.steps):
        if person in step.who:
            of_task.setdefault(step.task, []).append(number)
    tasks = tuple(
        _task(situation, person, task, of_task[task], own)
        for task in dict.fromkeys(situation.network.steps[number].task for number in numbers)
    )
    return MyList(
        person=person,
        does=own.does,
        band=own,
        others=situation.network.crew,
        tasks=tasks,
        done=sum(1 for number in numbers if number in situation.facts.done),
        total=len(numbers),
    )


def _task(situation: Situation, person: Designator, task_id: TaskId, numbers: list[int], own: Band) -> ListedTask:
    task = situation.procedure.task(task_id)
    here = own.now.id if own.now else None
    steps = tuple(_step(situation, person, number, here) for number in numbers)
    return ListedTask(task.title, task.where, ", ".join(task.needs), tag_words(situation, task_id), steps)


def _step(situation: Situation, person: Designator, number: int, here: StepId | None) -> ListedStep:
    step = situation.network.steps[number]
    mark = situation.state.done.get(step.id)
    others = [other for other in step.who if other != person]
    return ListedStep(
        id=step.id,
        text=step.do,
        state=str(situation.states[number]),
        done_at=None if mark is None else clock(mark.at_s),
        fig=f"t-{step.id}",
        takes=takes_words(situation, number),
        together=f"with {' and '.join(others)}" if others else "",
        lead=step_lead(situation, number),
        waits=waits_words(situation, number) if waits_for_others(situation, number) else "",
        signals=signals(situation, step, number),
        here=step.id == here,
        noted=notes_on(situation, step.id),
    )
