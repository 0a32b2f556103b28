"""The literal reading of the rule for get-ahead items, on top of `oracle`. It shares no code with the core either."""

from dataclasses import dataclass, replace
from itertools import product

from app.core.procedure import Designator, TaskId
from tests.core.happened import Places
from tests.core.oracle import Circle, Oracle


@dataclass(frozen=True)
class Answer:
    eligible: bool
    lead_s: int | None
    finish_s: int | None


class OfferOracle(Oracle):
    def begun(self, task: TaskId) -> bool:
        """Done in part, a start recorded, or taken to be under way now."""
        ids = [one.id for one in self.tasks[task].steps]
        facts = any(each in self.happened.done or each in self.happened.started for each in ids)
        return facts or any(self.in_run(each) and self.state(each) == "under way" for each in ids)

    def gaps(self, person: Designator) -> list[TaskId | None]:
        """Each task that the item may come before (None: the end): after work begun, before close-out."""
        close_out = self.procedure.limits.close_out
        tasks = [
            each
            for each in self.task_list(person)
            if any(person in one.who and self.is_open(one.id) for one in self.tasks[each].steps)
        ]
        if close_out is not None and self.closed_out(person, close_out):
            return []
        if close_out in tasks:
            tasks = tasks[: tasks.index(close_out) + 1]
        begun = [number for number, each in enumerate(tasks) if self.begun(each)]
        left: list[TaskId | None] = list(tasks[begun[-1] + 1 :] if begun else tasks)
        if close_out in tasks:
            return [] if self.begun(str(close_out)) else left
        return [*left, None]

    def closed_out(self, person: Designator, close_out: TaskId) -> bool:
        """The person's part of close-out is over, or the whole of it."""
        mine = [one.id for one in self.tasks[close_out].steps if person in one.who]
        everyone = [one.id for one in self.tasks[close_out].steps]
        return (bool(mine) and not any(map(self.is_open, mine))) or not any(map(self.is_open, everyone))

    def with_item(self, task: TaskId, places: Places) -> "OfferOracle":
        taken = {**self.happened.taken, task: (places, self.at_s)}
        return OfferOracle(
            self.procedure, replace(self.happened, taken=taken, put_off=self.happened.put_off - {task}), self.at_s
        )

    def best(self, task: TaskId) -> "OfferOracle | None":
        """The place that leaves the largest team lead, the earliest start on a tie, then the earliest gap."""
        people = list(dict.fromkeys(person for one in self.tasks[task].steps for person in one.who))
        ids = [one.id for one in self.tasks[task].steps]
        found: list[tuple[int, int, int, OfferOracle]] = []
        for number, befores in enumerate(product(*(self.gaps(person) for person in people))):
            tried = self.with_item(task, tuple(zip(people, befores, strict=True)))
            try:
                found.append((tried.end(), min(tried.start(each) for each in ids), number, tried))
            except Circle:
                continue
        return min(found, key=lambda each: each[:3])[3] if found else None

    def offer(self, task: TaskId) -> Answer:
        planned = self.planned()
        plan_end_s, best = planned.end(), self.best(task)
        if best is None:
            return Answer(False, None, None)
        lead_s = best.team_lead(plan_end_s)
        free = self._free_now(task, planned)
        fits = lead_s >= self.procedure.least_lead_s and self._inside(task, best)
        return Answer(free and fits, lead_s, best.end())

    def _free_now(self, task: TaskId, planned: "Oracle") -> bool:
        people = {person for one in self.tasks[task].steps for person in one.who}
        ids = [one.id for one in self.tasks[task].steps]
        unmet = {each for one in ids for each in self.unmet(one)} - set(ids)
        return (
            self.team_lead(planned.end()) >= self.procedure.least_lead_s
            and not unmet
            and all(self.person_lead(person, planned) >= -self.procedure.on_plan_within_s for person in people)
            and not any(self._at_hold(person) for person in people)
        )

    def _at_hold(self, person: Designator) -> bool:
        step = self.next(person)
        return step is not None and bool(self.steps[step].go) and self.state(step) == "under way"

    def _inside(self, task: TaskId, best: "Oracle") -> bool:
        ids, limits = [one.id for one in self.tasks[task].steps], self.procedure.limits
        if any(best.is_open(each) and best.misses(each) for each in ids):
            return False
        if limits.finish_s is None:
            return True
        last = (
            [best.end()]
            if limits.close_out is None
            else [best.finish(one.id) for one in self.tasks[limits.close_out].steps]
        )
        # The item itself must end by the limit too.
        return max([*last, *(best.finish(each) for each in ids)]) <= limits.finish_s
