"""A procedure as arrays: which step precedes which, and each person's list. It knows no times of a run.

Steps are numbered 0..n-1 in file order. Two kinds of link join them:

- a *prerequisite*, hard: the step before it in its task, and what `after` names. `after` a whole task means each
  step of that task, so a task whose last step was ordered early still counts as open;
- a person's *list*, soft: the steps of one person follow one another in file order, which a mark may overtake.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from app.core.procedure import After, Designator, Procedure, Span, Step, StepId, Task, TaskId

Places = tuple[tuple[Designator, TaskId | None], ...]
"""Where a task stands in lists: for each person, the task it comes before (None: the end)."""


class Cycle(ValueError):
    """Steps that wait for one another. `steps` names them in waiting order, the first again at the end."""

    def __init__(self, steps: tuple[StepId, ...]) -> None:
        super().__init__(" waits for ".join(steps))
        self.steps = steps


TaskLists = Mapping[Designator, tuple[TaskId, ...]]
"""Each person's tasks in order of work."""


@dataclass(frozen=True, slots=True)
class Network:
    """Parallel tuples over the n steps, in file order.

    Attributes:
        steps, takes_s, not_before_s, spans: each step, its likely duration, its earliest start, its window
            (None: any time).
        before: prerequisites of each step as (index, wait in seconds); part of the run or not.
        people: indices into `crew` of each step's people.
        lists: for each person of `crew`, the step indices in order of work.
        order: a topological order over prerequisites and lists, of the steps that are in (see `arrange`).
        index: step id to number. nominal: whether the step belongs to the nominal timeline.
        counted: whether its finish counts for the team's: nominal steps, and those added during the run.
    """

    steps: tuple[Step, ...]
    takes_s: tuple[int, ...]
    not_before_s: tuple[int, ...]
    spans: tuple[tuple[Span, ...] | None, ...]
    before: tuple[tuple[tuple[int, int], ...], ...]
    crew: tuple[Designator, ...]
    people: tuple[tuple[int, ...], ...]
    lists: tuple[tuple[int, ...], ...]
    order: tuple[int, ...]
    index: Mapping[StepId, int]
    nominal: tuple[bool, ...]
    counted: tuple[bool, ...]


def crew_of(procedure: Procedure) -> tuple[Designator, ...]:
    """Designators in file order."""
    return tuple(person.designator for person in procedure.crew)


def task_lists(procedure: Procedure) -> dict[Designator, tuple[TaskId, ...]]:
    """Each person's nominal tasks in file order; get-ahead items and added steps are in nobody's list."""
    nominal = [(task.id, frozenset(task.people)) for task in procedure.tasks if not task.get_ahead and not task.added]
    return {person: tuple(task for task, people in nominal if person in people) for person in crew_of(procedure)}


def with_task(lists: TaskLists, task: TaskId, places: Places) -> dict[Designator, tuple[TaskId, ...]]:
    """The lists with `task` moved or put before the task that each place names, or at the end if that is not there."""
    changed = dict(lists)
    for person, before in places:
        rest = [each for each in changed.get(person, ()) if each != task]
        at = rest.index(before) if before in rest else len(rest)
        changed[person] = (*rest[:at], task, *rest[at:])
    return changed


def build(procedure: Procedure) -> Network:
    """The network of the nominal tasks, each person in file order.

    Raises:
        Cycle: the prerequisites and lists together contain a cycle.
        KeyError: an `after` names a task or step that is not there (`checking` refuses such a file).
    """
    steps = procedure.steps
    index = {step.id: number for number, step in enumerate(steps)}
    get_ahead = {task.id for task in procedure.tasks if task.get_ahead}
    added = {task.id for task in procedure.tasks if task.added}
    windows = {window.name: window.spans for window in procedure.windows}
    crew = crew_of(procedure)
    seat = {person: number for number, person in enumerate(crew)}
    bare = Network(
        steps=steps,
        takes_s=tuple(step.takes.likely_s for step in steps),
        not_before_s=tuple(step.not_before_s for step in steps),
        spans=tuple(windows[step.within] if step.within else None for step in steps),
        before=prerequisites(procedure, index),
        crew=crew,
        people=tuple(tuple(seat[person] for person in step.who if person in seat) for step in steps),
        lists=(),
        order=(),
        index=index,
        nominal=tuple(step.task not in get_ahead and step.task not in added for step in steps),
        counted=tuple(step.task not in get_ahead for step in steps),
    )
    return arrange(bare, task_lists(procedure))


def arrange(
    network: Network,
    lists: TaskLists,
    taken: Iterable[TaskId] = (),
    done: Collection[int] = (),
    removed: Collection[int] = (),
) -> Network:
    """The same steps with each person's tasks in the order of `lists`, and the `taken` get-ahead items in the run.

    What stands in a list is in the run too, so that only taken work of nobody need be named.

    Steps `done` wait for nothing any more, and neither they nor steps `removed` hold a place in a list.

    Raises:
        Cycle: the prerequisites and these lists together contain a cycle.
    """
    in_run = {*taken, *(task for one_list in lists.values() for task in one_list)}
    of_task: dict[TaskId, list[int]] = {}
    for number, step in enumerate(network.steps):
        of_task.setdefault(step.task, []).append(number)
    within = [network.nominal[number] or step.task in in_run for number, step in enumerate(network.steps)]
    step_lists = tuple(
        tuple(number for task in lists.get(person, ()) for number in of_task[task] if seat in network.people[number])
        for seat, person in enumerate(network.crew)
    )
    holding = [[step for step in one_list if step not in done and step not in removed] for one_list in step_lists]
    return replace(network, lists=step_lists, order=_order(network, holding, within, done))


def prerequisites(procedure: Procedure, index: Mapping[StepId, int]) -> tuple[tuple[tuple[int, int], ...], ...]:
    """For each step its hard prerequisites as (index, wait in seconds); of two waits on one step the longer counts."""
    tasks = {task.id: task for task in procedure.tasks}
    found = []
    for task in procedure.tasks:
        for earlier, step in zip((None, *task.steps), task.steps, strict=False):
            waits = {} if earlier is None else {index[earlier.id]: 0}
            for link in step.after:
                for target in _targets(tasks[link.task], link):
                    number = index[target]
                    waits[number] = max(link.wait_s, waits.get(number, 0))
            found.append(tuple(waits.items()))
    return tuple(found)


def _targets(task: Task, link: After) -> list[StepId]:
    if link.step is None:
        return [step.id for step in task.steps]
    return [f"{task.id}/{link.step}"]


def _order(
    network: Network, lists: Iterable[Sequence[int]], within: list[bool], done: Collection[int]
) -> tuple[int, ...]:
    """Kahn's algorithm over the steps that are in; prerequisites outside the run are left out."""
    after: list[list[int]] = [[] for _ in network.steps]
    open_links = [0] * len(network.steps)
    for number, links in enumerate(network.before):
        if within[number] and number not in done:
            for earlier, _ in links:
                if within[earlier]:
                    after[earlier].append(number)
                    open_links[number] += 1
    for one_list in lists:
        for earlier, later in pairwise(one_list):
            after[earlier].append(later)
            open_links[later] += 1
    order = [number for number in range(len(within)) if within[number] and not open_links[number]]
    for number in order:
        for later in after[number]:
            open_links[later] -= 1
            if not open_links[later]:
                order.append(later)
    if len(order) < sum(within):
        raise Cycle(_trace(network.steps, after, open_links))
    return tuple(order)


def _trace(steps: tuple[Step, ...], after: list[list[int]], open_links: list[int]) -> tuple[StepId, ...]:
    """One cycle among the steps that were never freed, each followed by the step that it waits for."""
    stuck = {number for number, links in enumerate(open_links) if links > 0}
    waits_for = {later: number for number in stuck for later in after[number] if later in stuck}
    walk: dict[int, int] = {}
    at = next(number for number in sorted(stuck) if number in waits_for)
    while at not in walk:
        walk[at] = len(walk)
        at = waits_for[at]
    ring = [number for number, place in walk.items() if place >= walk[at]]
    return tuple(steps[number].id for number in (*ring, at))
