"""Rules on order: which steps wait for one another, told arc by arc. It knows no times and mends nothing."""

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from app.core.checking_names import Path, links, steps_with_paths
from app.core.network import task_lists
from app.core.procedure import After, Fault, Procedure, Step, StepId, Task, TaskId
from app.core.quoting import quoted


@dataclass(frozen=True, slots=True)
class _Arc:
    """`later` cannot be before `earlier`; `path` is the prerequisite that says so, None if the file order does."""

    earlier: StepId
    later: StepId
    reason: str
    path: Path | None = None


_MOST_CIRCLES = 10
_SHORT_TASK = 20
_MOST_LINKS = 100_000
MOST_WORKERS = 20_000
"""Steps times people, as 1,000 steps of 20 people each. Our own bound, no source: every page counts them."""
_Arcs = dict[StepId, dict[StepId, _Arc]]


def no_circle(procedure: Procedure) -> Iterator[Fault]:
    """Each circle of steps that wait for one another, by prerequisites, step order and people's lists."""
    if len({task.id for task in procedure.tasks}) < len(procedure.tasks):
        return  # Two tasks of one name would look like one that waits for itself.
    if _workers(procedure) > MOST_WORKERS:
        return  # Refused as it is, and to walk each person's list would take seconds.
    before = _arcs(procedure)
    for _ in range(_MOST_CIRCLES):
        before = _trimmed(before)
        if not before:
            return
        circle = _circle(before)
        yield _told(circle)
        for arc in circle:
            del before[arc.later]


def no_wait_for_itself(procedure: Procedure) -> Iterator[Fault]:
    for path, task, step, link in links(procedure):
        if _on_itself(task, step, link):
            what = f"{quoted(step.id if step else task.id)} waits for itself"
            yield Fault(path, what, "name another task, or take this out")


def _on_itself(task: Task, step: Step | None, link: After) -> bool:
    """A task after itself or one of its steps, a step after itself or the whole task it belongs to."""
    if link.task != task.id:
        return False
    return step is None or link.step is None or link.step == step.number


def _arcs(procedure: Procedure) -> _Arcs:
    """For each step what must be before it, by the earlier step; a prerequisite stands before a list as the reason."""
    before: _Arcs = {step.id: {} for step in procedure.steps}
    for arc in (*_prerequisites(procedure), *_step_order(procedure), *_list_order(procedure)):
        if arc.earlier in before and arc.later in before:
            before[arc.later].setdefault(arc.earlier, arc)
    return before


def _prerequisites(procedure: Procedure) -> Iterator[_Arc]:
    tasks = {task.id: task for task in procedure.tasks}
    for path, task, step, link in links(procedure):
        if link.task not in tasks or _on_itself(task, step, link):
            continue
        later = step.id if step else f"{task.id}/1"
        for target in _targets(tasks[link.task], link):
            yield _Arc(target, later, f"{later} waits for {target}", path)


def _targets(task: Task, link: After) -> list[StepId]:
    """The steps waited for; of a long task only the last, since the others come before it anyway."""
    if link.step is not None:
        return [f"{task.id}/{link.step}"]
    return [step.id for step in (task.steps if len(task.steps) <= _SHORT_TASK else task.steps[-1:])]


def not_too_many_links(procedure: Procedure) -> Iterator[Fault]:
    """Waiting for a task means each of its steps: thousands of waits for long tasks would take minutes to work out."""
    sizes = {task.id: len(task.steps) for task in procedure.tasks}
    total = sum(sizes.get(link.task, 0) if link.step is None else 1 for _, _, _, link in links(procedure))
    if total > _MOST_LINKS:
        what = f"the prerequisites come to {total:,} pairs of steps; at most {_MOST_LINKS:,} are read"
        yield Fault(("tasks",), what, "wait for single steps, or divide the procedure")


def not_too_many_workers(procedure: Procedure) -> Iterator[Fault]:
    """A crew of 64 in each of thousands of steps would take seconds to read and more to show."""
    total = _workers(procedure)
    if total > MOST_WORKERS:
        what = f"the steps have {total:,} people in all; at most {MOST_WORKERS:,} are read"
        yield Fault(("tasks",), what, "name fewer people to a step, or divide the procedure")


def _workers(procedure: Procedure) -> int:
    return sum(len(step.who) for step in procedure.steps)


def _step_order(procedure: Procedure) -> Iterator[_Arc]:
    for _, task, step in steps_with_paths(procedure):
        if step.number > 1:
            earlier = f"{task.id}/{step.number - 1}"
            yield _Arc(earlier, step.id, f"step order in {task.id}: {step.id} comes after {earlier}")


def _list_order(procedure: Procedure) -> Iterator[_Arc]:
    tasks: dict[TaskId, Task] = {task.id: task for task in procedure.tasks}
    for person, listed in task_lists(procedure).items():
        steps = [step.id for task in listed for step in tasks[task].steps if person in step.who]
        for earlier, later in pairwise(steps):
            yield _Arc(earlier, later, f"{person}'s list: {later} comes after {earlier}")


def _trimmed(before: _Arcs) -> _Arcs:
    """Only the steps that are in a circle or wait for one."""
    left = {later: {e: arc for e, arc in arcs.items() if e in before} for later, arcs in before.items()}
    after: dict[StepId, list[StepId]] = {step: [] for step in left}
    for later, arcs in left.items():
        for earlier in arcs:
            after[earlier].append(later)
    free = [step for step, arcs in left.items() if not arcs]
    for step in free:
        for later in after[step]:
            del left[later][step]
            if not left[later]:
                free.append(later)
    freed = set(free)
    return {step: arcs for step, arcs in left.items() if step not in freed}


def _circle(before: _Arcs) -> list[_Arc]:
    """The arcs of a shortest circle through one step that is in a circle, each before the arc it waits for."""
    at, walked = next(iter(before)), set[StepId]()
    while at not in walked:
        walked.add(at)
        at = next(iter(before[at]))
    came: dict[StepId, _Arc] = {}
    queue = deque([at])
    while at not in came:
        step = queue.popleft()
        for earlier, arc in before[step].items():
            if earlier not in came:
                came[earlier] = arc
                queue.append(earlier)
    circle = [came[at]]
    while circle[-1].later != at:
        circle.append(came[circle[-1].later])
    return circle[::-1]


def _told(circle: list[_Arc]) -> Fault:
    """A circle always has a prerequisite in it, since lists and step order both follow the file. It is placed there."""
    hard = [arc for arc in circle if arc.path is not None]
    path = hard[0].path if hard else None
    remedy = "take out one of these"
    if any(arc.path is None and "list" in arc.reason for arc in circle):
        remedy += ", or move a task: a person's tasks follow one another in file order"
    reasons = [arc.reason for arc in circle]
    if len(reasons) > 12:
        reasons = [*reasons[:11], f"{len(reasons) - 11} more"]
    return Fault(path or ("tasks",), f"steps wait for one another in a circle: {'; '.join(reasons)}", remedy)
