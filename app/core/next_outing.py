"""The procedure of the next outing: what a run leaves, with what was already done of it noted. It ends nothing.

A step that is left keeps the three points of its file: a duration that was revised during the run tells of that day,
has no spread, and stands in the step's note.
"""

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import count

from app.core.carry import at_head, carried_over, open_links
from app.core.carry_notes import (
    LONGEST_HISTORY,
    LONGEST_TEXT,
    Source,
    clean,
    cut,
    step_words,
    task_words,
    window_words,
    with_history,
)
from app.core.checking_names import own_after
from app.core.network import Cycle, build
from app.core.passes import plan
from app.core.procedure import After, Procedure, Step, StepId, Task, TaskId, Window
from app.core.state import EMPTY, State

LONGEST_ID = 64
_SUFFIX = "-carried"
_CARRIED_TITLE = re.compile(r", carried over from run \d+$")
_NO_WORDS = "(words that no file can hold)"


@dataclass(frozen=True, slots=True)
class _Carrying:
    """What every carried step needs to know. `ids`: the tasks' ids there; `places`: where a step of the run stands."""

    procedure: Procedure
    state: State
    source: Source
    longest: int
    ids: dict[TaskId, TaskId]
    places: dict[StepId, int]

    def linked(self, link: After) -> After:
        """A link to carried work, as it is named there."""
        number = None if link.step is None else self.places[f"{link.task}/{link.step}"]
        return After(self.ids[link.task], number, link.wait_s)


def next_outing(
    procedure: Procedure,
    state: State,
    source: Source,
    following: Procedure | None = None,
    longest: int = LONGEST_HISTORY,
) -> Procedure | None:
    """What is owed as a whole procedure, open work first; None when nothing is.

    Steps are numbered from 1 again. The run's own close-out task stands at the end whole: the next outing needs one
    too. Earliest starts are times of the old clock and are dropped; windows are kept where a step needs one, though
    they too are of the old clock, and have to be set anew. A step that no opening is left for has none, and says so.

    Args:
        procedure: the run's, added steps included (`Situation.procedure`).
        following: the next outing's own file, if there is one: the carried tasks then stand at its head.
        longest: so many characters the history of a task may take in a note.
    """
    owed = carried_over(procedure, state)
    if not owed:
        return None
    carrying = _Carrying(
        procedure,
        state,
        source,
        longest,
        _ids(owed, procedure, following),
        {step.id: place for task in owed for place, step in enumerate(task.steps, 1)},
    )
    carried = tuple(_task(task, carrying) for task in owed)
    if following is not None:
        return _unbound_where_missed(_onto(carried, carrying, following))
    return _with_used_windows(_unbound_where_missed(_on_its_own(carried, carrying)))


def replaced(procedure: Procedure, state: State, following: Procedure) -> tuple[TaskId, ...]:
    """The tasks of the following outing's file that are carried work planned again, and are dropped from it."""
    owed = carried_over(procedure, state)
    ids = _ids(owed, procedure, following)
    carried = {ids[task.id] for task in owed}
    return tuple(task.id for task in following.tasks if task.id in carried)


def _ids(owed: Iterable[Task], procedure: Procedure, following: Procedure | None) -> dict[TaskId, TaskId]:
    """What each carried task is called there: its own id, unless that is another task's of the following file."""
    known = {task.id: task for task in following.tasks} if following else {}
    close_out = following.limits.close_out if following else None
    tasks = tuple(owed)
    used, ids = {*known, *(task.id for task in tasks)}, dict[TaskId, TaskId]()
    for task in tasks:
        same = task.id in known and task.id != close_out and _same_work(procedure.task(task.id), known[task.id])
        ids[task.id] = task.id if same or task.id not in known else _free_id(task.id, used)
        used.add(ids[task.id])
    return ids


def _same_work(task: Task, other: Task) -> bool:
    return [step.do for step in task.steps] == [step.do for step in other.steps]


def _free_id(task: TaskId, used: set[TaskId]) -> TaskId:
    endings = (_SUFFIX if number == 1 else f"{_SUFFIX}-{number}" for number in count(1))
    return next(name for ending in endings if (name := f"{task[: LONGEST_ID - len(ending)]}{ending}") not in used)


# Of a run alone


def _on_its_own(carried: tuple[Task, ...], carrying: _Carrying) -> Procedure:
    procedure, source = carrying.procedure, carrying.source
    title = f", carried over from run {source.run}"
    return replace(
        procedure,
        id=f"{procedure.id.removesuffix(_SUFFIX)[: LONGEST_ID - len(_SUFFIX)]}{_SUFFIX}",
        title=f"{cut(_CARRIED_TITLE.sub('', procedure.title), LONGEST_TEXT - len(title))}{title}",
        about=cut(f"What {source.words} left. {procedure.about}".strip(), LONGEST_TEXT),
        tasks=(*carried, *_close_out(carrying)),
    )


def _with_used_windows(made: Procedure) -> Procedure:
    used = _windows_of(made.tasks)
    return replace(made, windows=tuple(window for window in made.windows if window.name in used))


def _windows_of(tasks: Iterable[Task]) -> set[str | None]:
    return {name for task in tasks for name in (task.within, *(step.within for step in task.steps))}


def _close_out(carrying: _Carrying) -> tuple[Task, ...]:
    """The close-out task whole: it waits for what is carried of what it waited for."""
    procedure = carrying.procedure
    if procedure.limits.close_out is None:
        return ()
    task = procedure.task(procedure.limits.close_out)

    def change(link: After) -> Iterator[After]:
        if link.task == task.id:
            yield link
        else:
            yield from (carrying.linked(each) for each in open_links(procedure, (link,), carrying.state))

    return (_without_early(_relinked(task, change), carrying),)


def _without_early(task: Task, carrying: _Carrying) -> Task:
    """Without times of the old clock; nothing that was done of it counts for the next outing."""

    def noted(step: Step) -> str:
        return with_history(
            tuple(step_words(step, carrying.procedure, EMPTY, carrying.source)), step.note, carrying.longest
        )

    steps = tuple(replace(step, not_before_s=0, note=noted(step)) for step in task.steps)
    return replace(task, not_before_s=0, steps=steps)


def _relinked(task: Task, change: Callable[[After], Iterable[After]]) -> Task:
    """The task with each of its links changed, and what its first step has from it once more."""

    def changed(links: Iterable[After]) -> tuple[After, ...]:
        return tuple(dict.fromkeys(each for link in links for each in change(link)))

    first, *rest = task.steps
    after = changed(task.after)
    own = (link for link in changed(own_after(task, first)) if link not in after)
    others = (replace(step, after=changed(step.after)) for step in rest)
    return replace(task, after=after, steps=(replace(first, after=(*after, *own)), *others))


# The carried tasks


def _task(task: Task, carrying: _Carrying) -> Task:
    """The carried task as a file has it: numbered from 1, no time of the old clock, and what was done of it noted."""
    name = carrying.ids[task.id]
    steps = tuple(replace(_step(step, place, carrying), task=name) for place, step in enumerate(task.steps, 1))
    title = clean(task.title) or _NO_WORDS if task.id in carrying.state.added else task.title
    return replace(task, id=name, title=title, after=steps[0].after, not_before_s=0, steps=steps)


def _step(step: Step, place: int, carrying: _Carrying) -> Step:
    state, procedure = carrying.state, carrying.procedure
    whole = task_words(procedure.task(step.task), state, carrying.source) if place == 1 else ()
    said = (*whole, *step_words(step, procedure, state, carrying.source))
    left = None if step.count is None else step.count - len(state.progress.counts.get(step.id, ()))
    return replace(
        step,
        number=place,
        do=clean(step.do) or _NO_WORDS if step.task in state.added else step.do,
        after=tuple(dict.fromkeys(carrying.linked(link) for link in step.after)),
        not_before_s=0,
        note=with_history(said, step.note, carrying.longest),
        count=step.count if left == step.count else left if left is not None and left > 1 else None,
    )


# Onto the next outing's own file


def _onto(carried: tuple[Task, ...], carrying: _Carrying, following: Procedure) -> Procedure:
    """The following outing with the carried tasks at its head, and the people, tools and windows that they need."""
    ids = {task.id for task in carried}

    def change(link: After) -> Iterator[After]:
        if link.task not in ids or link.step is None:
            yield link
        elif (place := carrying.places.get(f"{link.task}/{link.step}")) is not None:
            yield After(link.task, place, link.wait_s)

    kept = tuple(_relinked(task, change) for task in following.tasks)
    whole = at_head(carried, replace(following, tasks=kept))
    people = {
        one for task in carried for step in task.steps for one in (*task.who, *step.who, *step.go, step.confirm_by)
    }
    missing = people - {person.designator for person in whole.crew}
    tools = dict.fromkeys(tool for task in carried for tool in task.needs if tool not in whole.tools)
    windows = _windows_of(carried) - {window.name for window in whole.windows}
    return replace(
        whole,
        crew=(*whole.crew, *(person for person in carrying.procedure.crew if person.designator in missing)),
        # A file without tools names none of those that its tasks need; one that lists them lists them all.
        tools=(*whole.tools, *tools) if whole.tools else (),
        windows=(*whole.windows, *(one for one in carrying.procedure.windows if one.name in windows)),
    )


# Windows


def _unbound_where_missed(made: Procedure) -> Procedure:
    """The procedure without the windows of steps that no opening is left for, each of which says so."""
    while misses := _misses(made):
        made = replace(made, tasks=tuple(_unbound(task, misses) for task in made.tasks))
    return made


def _misses(made: Procedure) -> set[StepId]:
    """The steps that fit no opening of their window, by themselves or where the plan has them."""
    longest = {window.name: _longest_opening(window) for window in made.windows}
    found = {step.id for step in made.steps if step.within and step.takes.likely_s > longest[step.within]}
    if found:
        return found
    try:
        network = build(made)
    except Cycle:
        return set()  # `checking` tells it; there is no plan to judge.
    return {made.steps[number].id for number in plan(network).misses}


def _longest_opening(window: Window) -> int:
    return max((span.closes_s - span.opens_s for span in window.spans), default=0)


def _unbound(task: Task, misses: set[StepId]) -> Task:
    if not any(step.id in misses for step in task.steps):
        return task
    steps = (
        replace(step, within=None, note=with_history((window_words(step),), step.note, LONGEST_TEXT))
        if step.id in misses
        else step
        for step in task.steps
    )
    return replace(task, within=None, steps=tuple(steps))
