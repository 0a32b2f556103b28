"""Each person's list as the run's events have changed it: taken work, added steps, new orders. It knows no times."""

from collections.abc import Iterator
from dataclasses import dataclass

from app.core.network import Cycle, Network, Places, TaskLists, arrange, with_task
from app.core.passes import Facts
from app.core.procedure import Designator, Procedure, TaskId
from app.core.state import Added, Reordered, State, Taken
from app.core.words import steps_waiting, task_words


@dataclass(frozen=True, slots=True)
class Arrangement:
    """Each person's tasks in order of work, the network of that, and what orders could not be kept, in sentences."""

    lists: TaskLists
    network: Network
    dropped: tuple[str, ...] = ()


def reordered(lists: TaskLists, person: Designator, tasks: tuple[TaskId, ...]) -> dict[Designator, tuple[TaskId, ...]]:
    """The lists with these tasks of one person in this order, in the places that they hold now. Others stay."""
    now = lists.get(person, ())
    wanted = iter([task for task in tasks if task in now])
    return {**lists, person: tuple(next(wanted) if task in tasks else task for task in now)}


def after_close_out(lists: TaskLists, person: Designator, close_out: TaskId | None) -> tuple[TaskId, ...]:
    """The close-out task and what stands after it in this person's list; empty where it is not in the list."""
    one_list = lists.get(person, ())
    return one_list[one_list.index(close_out) :] if close_out in one_list else ()


def arrangement(procedure: Procedure, lists: TaskLists, network: Network, state: State, facts: Facts) -> Arrangement:
    """The plan's `lists` and `network` as the run has changed them, event by event in order of `seq`.

    A place was sound when the work was put there, and so was an order when it was given. A step that is reopened later
    may make work wait for something that now comes after it in the same list. Then taken and added work moves down its
    lists until it no longer does, and a new order is left out: the one before it stands.
    """
    now = _Arranging(procedure, lists, network, facts, set(state.taken))
    moves: list[tuple[int, TaskId, Taken | Added | Reordered]] = [
        *((each.seq, task, each) for task, each in state.taken.items()),
        *((each.seq, task, each) for task, each in state.added.items()),
        *((each.seq, "", each) for each in state.reordered),
    ]
    for _, task, move in sorted(moves, key=lambda each: each[0]):
        if isinstance(move, Reordered):
            now.reorder(move)
        else:
            now.put(task, move.places)
    return Arrangement(now.lists, now.network, tuple(now.dropped))


class _Arranging:
    """The lists while the events are applied to them, one after the other.

    `awaited`: work whose taking is still to come. Until then it was put off, and held no place in any list.
    """

    def __init__(
        self, procedure: Procedure, lists: TaskLists, network: Network, facts: Facts, awaited: set[TaskId]
    ) -> None:
        self.procedure = procedure
        self.lists = lists
        self.network = network
        self.facts = facts
        self.awaited = awaited
        self.taken: list[TaskId] = []
        self.dropped: list[str] = []

    def _try(self, lists: TaskLists) -> None:
        """Take these lists. Raises Cycle, and changes nothing, where steps would wait for one another."""
        away = {number for number, step in enumerate(self.network.steps) if step.task in self.awaited}
        self.network = arrange(self.network, lists, self.taken, self.facts.done, self.facts.removed | away)
        self.lists = lists

    def put(self, task: TaskId, places: Places) -> None:
        self.taken.append(task)
        self.awaited.discard(task)
        wanted = (with_task(self.lists, task, each) for each in _from_there_on(self.lists, task, places))
        for lists in (*wanted, self.lists):
            try:
                self._try(lists)
            except Cycle:
                continue
            return

    def reorder(self, move: Reordered) -> None:
        last = after_close_out(self.lists, move.person, self.procedure.limits.close_out)
        late = [task for task in move.tasks if task in last]
        if late:
            self._drop(move, f"{task_words(self.procedure, late[0])} stands after close-out now")
            return
        try:
            self._try(reordered(self.lists, move.person, move.tasks))
        except Cycle as cycle:
            self._drop(move, steps_waiting(self.procedure, cycle.steps))

    def _drop(self, move: Reordered, why: str) -> None:
        order = ", ".join(task_words(self.procedure, task) for task in move.tasks)
        self.dropped.append(f"{move.person}'s new order ({order}) can't be kept: {why}. The order before it stands.")


def _from_there_on(lists: TaskLists, task: TaskId, places: Places) -> Iterator[Places]:
    """The places themselves, then all of them one task further down at a time, to the ends of the lists."""
    yield places
    rests = {person: [each for each in lists[person] if each != task] for person, _ in places}
    starts = {
        person: rests[person].index(before) if before in rests[person] else len(rests[person])
        for person, before in places
    }
    for further in range(1, max((len(rest) for rest in rests.values()), default=0) + 1):
        yield tuple(
            (person, rests[person][at] if (at := starts[person] + further) < len(rests[person]) else None)
            for person, _ in places
        )
