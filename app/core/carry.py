"""What carries over: the work that a run leaves, as tasks for the next outing. It ends nothing itself.

Work not finished goes to the head of the next outing's list: common practice, no source.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from app.core.network import Cycle, build
from app.core.procedure import After, Procedure, Step, Task, TaskId
from app.core.state import State


def carried_over(procedure: Procedure, state: State) -> tuple[Task, ...]:
    """The tasks that still have open steps, with only those: begun work first, then unbegun, then what was put off.

    `procedure` is the run's (`Situation.procedure`): steps that were added to it are owed like any other.

    Get-ahead items that were never begun are not owed and stay out, and so does the close-out task, which belongs to
    its own outing. What waits for other carried work stands after it; where tasks wait for one another step by step
    that may leave them in the order of the file. Step numbers are kept, so that the record of the first outing can be
    read beside them; a prerequisite that was met is dropped.
    """
    owed = [
        (task, left) for task in procedure.tasks if (left := _left(task, state)) and _is_owed(procedure, task, state)
    ]
    begun = [pair for pair in owed if state.begun(pair[0].id)]
    put_off = [pair for pair in owed if pair[0].id in state.put_off]
    unbegun = [pair for pair in owed if pair not in begun and pair not in put_off]
    only = {task.id: _only(task, left, state, procedure) for task, left in owed}
    wanted = _in_waiting_order(tuple(only[task.id] for task, _ in (*begun, *unbegun, *put_off)))
    return wanted if _is_sound(procedure, wanted) else _in_file_order(procedure, only)


def _is_sound(procedure: Procedure, tasks: tuple[Task, ...]) -> bool:
    """Whether nobody would wait for themselves with the tasks in this order."""
    try:
        build(replace(procedure, tasks=tasks))
    except Cycle:
        return False
    return True


def _in_file_order(procedure: Procedure, only: Mapping[TaskId, Task]) -> tuple[Task, ...]:
    """The planned tasks as in the file, whose order is sound; then what was in nobody's list there."""
    planned = [only[task.id] for task in procedure.tasks if task.id in only and not (task.get_ahead or task.added)]
    others = _in_waiting_order(tuple(task for task in only.values() if task not in planned))
    return (*planned, *others)


def _in_waiting_order(tasks: tuple[Task, ...]) -> tuple[Task, ...]:
    """Each task after those that it waits for, else as given: a list must not have its people wait for themselves."""
    by_id, placed = {task.id: task for task in tasks}, dict[TaskId, Task]()

    def place(task: Task, asking: frozenset[TaskId]) -> None:
        for link in (link for step in task.steps for link in step.after):
            if link.task in by_id and link.task not in asking and link.task not in placed:
                place(by_id[link.task], asking | {link.task})
        placed.setdefault(task.id, task)

    for task in tasks:
        place(task, frozenset({task.id}))
    return tuple(placed.values())


def at_head(carried: tuple[Task, ...], following: Procedure) -> Procedure:
    """The following outing's procedure with the carried tasks at the head of its list.

    A carried task's windows and people must exist there; `checking` says so if they don't. A following task of the
    same id is the same work planned again, and is dropped in favour of what was carried.
    """
    ids = {task.id for task in carried}
    return replace(following, tasks=(*carried, *(task for task in following.tasks if task.id not in ids)))


def _left(task: Task, state: State) -> tuple[Step, ...]:
    return tuple(step for step in task.steps if step.id not in state.done and step.id not in state.not_needed)


def _is_owed(procedure: Procedure, task: Task, state: State) -> bool:
    return task.id != procedure.limits.close_out and (not task.get_ahead or state.begun(task.id))


def _only(task: Task, left: tuple[Step, ...], state: State, procedure: Procedure) -> Task:
    steps = []
    for step in left:
        own = [each for each in task.steps if each.number == step.number - 1 and each.id in state.not_needed]
        links = (*step.after, *(link for each in own for link in _passed_on(each, 0)))
        steps.append(replace(step, after=tuple(dict.fromkeys(open_links(procedure, links, state)))))
    return replace(task, steps=tuple(steps), get_ahead=False, added=False, after=steps[0].after)


def open_links(procedure: Procedure, links: Iterable[After], state: State) -> Iterator[After]:
    """The prerequisites that are still open; what is not needed passes on what it waited for, waits added up."""
    for link in links:
        if _still_open(procedure, link, state):
            yield link
        for step in procedure.task(link.task).steps:
            if link.step in (None, step.number) and step.id in state.not_needed:
                yield from open_links(procedure, _passed_on(step, link.wait_s), state)


def _passed_on(step: Step, wait_s: int) -> tuple[After, ...]:
    before = (After(step.task, step.number - 1),) if step.number > 1 else ()
    return tuple(replace(link, wait_s=link.wait_s + wait_s) for link in (*before, *step.after))


def _still_open(procedure: Procedure, link: After, state: State) -> bool:
    task = procedure.task(link.task)
    named = tuple(step for step in task.steps if link.step in (None, step.number))
    return _is_owed(procedure, task, state) and any(step in _left(task, state) for step in named)
