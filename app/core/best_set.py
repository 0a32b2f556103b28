"""The best set of optional work that fits now: what was put off and get-ahead items, together and each at its place.

It follows `choices`: the same places, the same reasons why not. A plan is filled from the top priority down (NASA, *The
International Space Station: Operating an Outpost in the New Frontier*, ch. 17, p. 292): owed work first, by its worth.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from app.core.choices import Tried, are_all_tried, best_place, tries
from app.core.events import WorkTaken
from app.core.network import Places
from app.core.procedure import Task, TaskId
from app.core.reasons import prerequisite_reason, why_not_now, why_not_there
from app.core.situation import Situation
from app.core.suppose import suppose

MOST_TRIES = 250
"""Places tried, of all items in all places of the others, before each item gets only its best place. Our own bound."""
MOST_ITEMS = 6
"""Items that are combined; further ones in the list are left out. Our own bound."""


@dataclass(frozen=True, slots=True)
class BestSet:
    """Two or more items that fit together.

    Attributes:
        work: each with its places, in the order in which they are to be taken.
        worth: of what was put off. extra_s: planned seconds of get-ahead work.
        lead_after_s, finish_after_s: of the team, with all of them in.
        exact: whether every set was tried at every place.
    """

    work: tuple[tuple[TaskId, Places], ...]
    worth: int
    extra_s: int
    lead_after_s: int
    finish_after_s: int
    exact: bool

    @property
    def events(self) -> tuple[WorkTaken, ...]:
        return tuple(WorkTaken(task, places) for task, places in self.work)


def best_set(situation: Situation, only: Sequence[TaskId] | None = None) -> BestSet | None:
    """The set of most worth put back, then of most get-ahead work, then of largest lead after; None if no two fit.

    Args:
        only: not the best set, but exactly these tasks.
    """
    able = _candidates(situation, only)
    tasks = able[:MOST_ITEMS]
    search = _Search(situation, tasks, every_place=True)
    if search.gave_up:
        search = _Search(situation, tasks, every_place=False)
    best = search.best(None if only is None else frozenset(only))
    return best if best is None or len(tasks) == len(able) else replace(best, exact=False)


def _candidates(situation: Situation, only: Sequence[TaskId] | None) -> tuple[Task, ...]:
    """What has no reason of its own against it, put-off work first by worth; prerequisites in the set count as met."""
    state = situation.state
    optional = [
        task
        for task in situation.procedure.tasks
        if (task.id in state.put_off or (task.get_ahead and task.id not in state.taken))
        and (only is None or task.id in only)
        and any(step.id not in state.done and step.id not in state.not_needed for step in task.steps)
    ]
    ids = tuple(task.id for task in optional)
    able = [task for task in optional if why_not_now(situation, task, ids) is None]
    ranked = sorted(able, key=lambda task: (task.id not in state.put_off, -task.worth))
    return _after_what_they_wait_for(ranked)


def _after_what_they_wait_for(tasks: Sequence[Task]) -> tuple[Task, ...]:
    placed, left = list[Task](), list(tasks)
    while left:
        waiting = {task.id for task in left}
        ready = next(
            (t for t in left if not waiting - {t.id} & {link.task for step in t.steps for link in step.after}), left[0]
        )
        placed.append(ready)
        left.remove(ready)
    return tuple(placed)


class _Search:
    """Depth first through the items in order: each is left out, or put at a place where nothing stands against it.

    Adding work never makes the team earlier, so what does not fit now fits no better with more around it.
    """

    def __init__(self, situation: Situation, tasks: tuple[Task, ...], every_place: bool) -> None:
        self._tasks = tasks
        self._every_place = every_place
        self._all_places = every_place
        self._tried = 0
        self._found: list[BestSet] = []
        self._grow(situation, 0, ())

    @property
    def gave_up(self) -> bool:
        return self._every_place and self._tried > MOST_TRIES

    def best(self, wanted: frozenset[TaskId] | None) -> BestSet | None:
        fitting = [
            each
            for each in self._found
            if len(each.work) > 1 and (wanted is None or {task for task, _ in each.work} == wanted)
        ]
        best = max(fitting, key=lambda each: (each.worth, each.extra_s, each.lead_after_s), default=None)
        return None if best is None else replace(best, exact=self._all_places)

    def _grow(self, situation: Situation, first: int, work: tuple[tuple[TaskId, Places], ...]) -> None:
        for place in range(first, len(self._tasks)):
            task = self._tasks[place]
            chosen = tuple(each for each, _ in work)
            if prerequisite_reason(situation, task, chosen) is not None:
                continue
            for tried in self._tries(situation, task, chosen):
                if self.gave_up:
                    return
                # An item put before one of the others may push that one past the limit, or out of its window.
                own = [situation.procedure.task(each) for each in (*chosen, task.id)]
                if all(why_not_there(situation, each, tried.timeline) is None for each in own):
                    grown = (*work, (task.id, tried.places))
                    self._found.append(self._set(situation, tried, grown))
                    self._grow(suppose(situation, [WorkTaken(task.id, tried.places)]), place + 1, grown)

    def _tries(self, situation: Situation, task: Task, chosen: Sequence[TaskId]) -> Iterator[Tried]:
        if self._every_place:
            self._all_places = self._all_places and are_all_tried(situation, task, chosen)
            for tried in tries(situation, task, chosen):
                self._tried += 1
                yield tried
        elif (best := best_place(situation, task, chosen)) is not None:
            yield best

    def _set(self, situation: Situation, tried: Tried, work: tuple[tuple[TaskId, Places], ...]) -> BestSet:
        tasks = [situation.procedure.task(task) for task, _ in work]
        return BestSet(
            work=work,
            worth=sum(task.worth for task in tasks if not task.get_ahead),
            extra_s=sum(step.takes.likely_s for task in tasks if task.get_ahead for step in task.steps),
            lead_after_s=situation.lead_of(tried.timeline),
            finish_after_s=tried.timeline.end_s,
            exact=False,
        )
