"""A slow, literal reading of the arithmetic in words, to hold the core against. It shares no code with the core.

Everything is a definition by recursion over step ids, and windows are searched second by second. The readings that the
words leave open are named where they are made.
"""

from collections.abc import Callable, Iterator

from app.core.procedure import Designator, Procedure, Step, StepId, Task, TaskId
from tests.core.happened import Happened


class Circle(Exception):
    """Steps wait for one another."""


class Oracle:
    def __init__(self, procedure: Procedure, happened: Happened, at_s: int) -> None:
        self.procedure, self.happened, self.at_s = procedure, happened, at_s
        self.steps: dict[StepId, Step] = {each.id: each for each in procedure.steps}
        self.tasks: dict[TaskId, Task] = {each.id: each for each in procedure.tasks}
        self.known: dict[tuple[str, StepId], int] = {}
        self.asking: set[tuple[str, StepId]] = set()

    def _once(self, what: str, step: StepId, work: Callable[[StepId], int]) -> int:
        key = (what, step)
        if key not in self.known:
            if key in self.asking:
                raise Circle
            self.asking.add(key)
            self.known[key] = work(step)
            self.asking.discard(key)
        return self.known[key]

    # Who does what, in which order

    def in_run(self, step: StepId) -> bool:
        task = self.steps[step].task
        return not self.tasks[task].get_ahead or task in self.happened.taken

    def removed(self, step: StepId) -> bool:
        out = step in self.happened.not_needed or self.steps[step].task in self.happened.put_off
        return out and step not in self.happened.done

    def is_open(self, step: StepId) -> bool:
        return self.in_run(step) and step not in self.happened.done and not self.removed(step)

    def task_list(self, person: Designator) -> list[TaskId]:
        tasks = [
            each.id
            for each in self.procedure.tasks
            if not each.get_ahead and not each.added and any(person in one.who for one in each.steps)
        ]
        turns = tuple(self.happened.taken) if self.happened.turns is None else self.happened.turns
        for turn in turns:
            if isinstance(turn, str):
                tasks = self._put_in(tasks, person, turn)
            elif turn[0] == person:
                spots = sorted(tasks.index(each) for each in turn[1] if each in tasks)
                for spot, task in zip(spots, [each for each in turn[1] if each in tasks], strict=True):
                    tasks[spot] = task
        return tasks

    def _put_in(self, tasks: list[TaskId], person: Designator, task: TaskId) -> list[TaskId]:
        for who, before in self.happened.taken[task][0]:
            if who == person:
                tasks = [each for each in tasks if each != task]
                tasks.insert(tasks.index(before) if before in tasks else len(tasks), task)
        return tasks

    def takes(self, step: StepId) -> int:
        return self.happened.takes.get(step, self.steps[step].takes.likely_s)

    def step_list(self, person: Designator) -> list[StepId]:
        return [one.id for task in self.task_list(person) for one in self.tasks[task].steps if person in one.who]

    def earlier_open(self, step: StepId) -> list[StepId]:
        """The open steps before this one in its people's lists."""
        found = []
        for person in self.steps[step].who:
            mine = self.step_list(person)
            found += [each for each in mine[: mine.index(step)] if self.is_open(each)]
        return found

    def prerequisites(self, step: StepId) -> list[tuple[StepId, int]]:
        """The step before it in its task, and every step that `after` names: a whole task means all its steps."""
        this = self.steps[step]
        found = [(f"{this.task}/{this.number - 1}", 0)] if this.number > 1 else []
        for each in this.after:
            numbers = [one.number for one in self.tasks[each.task].steps] if each.step is None else [each.step]
            found += [(f"{each.task}/{number}", each.wait_s) for number in numbers]
        return [(each, wait_s) for each, wait_s in found if self.in_run(each)]

    # Forward

    def waited(self, step: StepId) -> int:
        return max([0, *(self.finish(each) + wait_s for each, wait_s in self.prerequisites(step))])

    def latest_actual(self, person: Designator) -> int:
        return max([0, *(at_s for each, at_s in self.happened.done.items() if person in self.steps[each].who)])

    def since(self, step: StepId) -> int:
        """When a removed step was taken out of the run."""
        return min(self.happened.off_since[each] for each in (step, self.steps[step].task) if self._is_out(each))

    def _is_out(self, name: str) -> bool:
        return name in self.happened.not_needed or name in self.happened.put_off

    def freed(self, step: StepId) -> int:
        """What waited for a removed step, or followed it in a list, can't have begun while that was in the run."""
        removed = [each for each, _ in self.prerequisites(step) if self.removed(each)]
        found = [max(self.since(each), self._freed_hard(each)) for each in removed]
        for person in self.steps[step].who:
            mine = self.step_list(person)
            for each in reversed(mine[: mine.index(step)] if step in mine else []):
                if self.is_open(each):
                    break
                found += [self.since(each)] if self.removed(each) else []
        return max([0, *found])

    def _freed_hard(self, step: StepId) -> int:
        removed = [each for each, _ in self.prerequisites(step) if self.removed(each)]
        return max([0, *(max(self.since(each), self._freed_hard(each)) for each in removed)])

    def bar(self, step: StepId) -> int:
        """No earlier than this for reasons that are not its people's. Work taken in can't begin before it was."""
        taken = self.happened.taken.get(self.steps[step].task)
        return max(self.waited(step), self.steps[step].not_before_s, taken[1] if taken else 0)

    def unshifted(self, step: StepId) -> int:
        """The words say "the previous open step". With a recorded start a later one may end first; all count here."""
        people = [self.latest_actual(person) for person in self.steps[step].who]
        return max(
            [self.bar(step), self.freed(step), *people, *(self.finish(each) for each in self.earlier_open(step))]
        )

    def opening(self, step: StepId, from_s: int) -> int | None:
        """The first second from then on at which the whole step lies in one opening. None if there is none."""
        name, takes_s = self.steps[step].within, self.takes(step)
        if name is None:
            return from_s
        spans = next(each.spans for each in self.procedure.windows if each.name == name)
        for second in range(from_s, max(each.closes_s for each in spans) + 1):
            if any(each.opens_s <= second and second + takes_s <= each.closes_s for each in spans):
                return second
        return None

    def misses(self, step: StepId) -> bool:
        """No opening is left; the step then keeps the start it would have without a window."""
        return step not in self.happened.started and self.opening(step, self.unshifted(step)) is None

    def start(self, step: StepId) -> int:
        return self._once("start", step, self._start)

    def _start(self, step: StepId) -> int:
        if step in self.happened.done:
            return self._actual_start(step)
        if self.removed(step):
            return self.waited(step)
        from_s = self.unshifted(step)
        if step in self.happened.started:
            return self.happened.started[step]  # It keeps its place in the lists: a circle through it is one still.
        opens_s = self.opening(step, from_s)
        return from_s if opens_s is None else opens_s

    def _actual_start(self, step: StepId) -> int:
        """Our own reading, for the record only: as recorded, else as soon as it could be, never after its finish."""
        finish_s, order = self.happened.done[step], list(self.steps)
        if step in self.happened.started:
            return min(self.happened.started[step], finish_s)
        before = [
            at_s
            for each, at_s in self.happened.done.items()
            if (at_s, order.index(each)) < (finish_s, order.index(step))
            and set(self.steps[each].who) & set(self.steps[step].who)
        ]
        return min(finish_s, max([self.bar(step), *before]))

    def finish(self, step: StepId) -> int:
        return self._once("finish", step, self._finish)

    def _finish(self, step: StepId) -> int:
        if step in self.happened.done:
            return self.happened.done[step]
        if self.removed(step):
            return self.waited(step)  # It takes no time and passes on what it waited for.
        return max(self.at_s, self.start(step) + self.takes(step))

    def end(self) -> int:
        nominal = [each for each in self.steps if not self.tasks[self.steps[each].task].get_ahead]
        return max([0, *(self.finish(each) for each in nominal if not self.removed(each))])

    # Backward, over the plan

    def followers(self, step: StepId) -> Iterator[tuple[StepId, int]]:
        for later in self.steps:
            if self.in_run(later):
                yield from ((later, wait_s) for each, wait_s in self.prerequisites(later) if each == step)
        for person in self.steps[step].who:
            mine = self.step_list(person)
            yield from ((each, 0) for each in mine[mine.index(step) + 1 :])

    def late_start(self, step: StepId) -> int:
        return self._once("late start", step, self._late_start)

    def _late_start(self, step: StepId) -> int:
        late_finish = min([self.end(), *(self.late_start(each) - wait_s for each, wait_s in self.followers(step))])
        second = late_finish - self.steps[step].takes.likely_s
        while self.opening(step, second) != second:
            second -= 1
        return second

    def late_finish(self, step: StepId) -> int:
        """Late start plus duration, also where the start was moved back into its window."""
        return self.late_start(step) + self.steps[step].takes.likely_s

    # Leads

    def planned(self) -> "Oracle":
        return Oracle(self.procedure, Happened(), 0)

    def team_lead(self, plan_end_s: int) -> int:
        return plan_end_s - self.end()

    def next(self, person: Designator) -> StepId | None:
        return next((each for each in self.step_list(person) if self.is_open(each)), None)

    def person_lead(self, person: Designator, planned: "Oracle") -> int:
        mine = [
            each
            for each in self.step_list(person)
            if not self.tasks[self.steps[each].task].get_ahead
            and not self.tasks[self.steps[each].task].added
            and not self.removed(each)
        ]
        if not mine:
            return 0
        this = next((each for each in mine if self.is_open(each)), mine[-1])
        return planned.finish(this) - self.finish(this)

    # States

    def open_prerequisites(self, step: StepId) -> list[StepId]:
        """Those not done, through steps that were removed; a get-ahead item that is not in the run is not done."""
        found = []
        for each in self.named_before(step):
            if self.removed(each):
                found += self.open_prerequisites(each)
            elif each not in self.happened.done:
                found.append(each)
        return found

    def named_before(self, step: StepId) -> list[StepId]:
        """Every hard prerequisite, in the run or not."""
        this = self.steps[step]
        named = [
            f"{each.task}/{one.number}"
            for each in this.after
            for one in self.tasks[each.task].steps
            if each.step in (None, one.number)
        ]
        return [*named, f"{this.task}/{this.number - 1}"] if this.number > 1 else named

    def state(self, step: StepId) -> str:
        if step in self.happened.done:
            return "done"
        if self.removed(step):
            return "not needed" if step in self.happened.not_needed else "put off"
        if step in self.happened.started:
            return "under way"
        if self.open_prerequisites(step) or self.misses(step):
            return "waiting"
        if not self.earlier_open(step):
            return "under way" if self.start(step) <= self.at_s else "waiting"
        could = self.bar(step) <= self.at_s and self.opening(step, self.at_s) == self.at_s
        return "ready" if could else "waiting"

    def unmet(self, step: StepId) -> list[StepId]:
        """What an optional step still waits for. Work that was put off is not done; what is not needed is passed."""
        found = []
        for each in self.named_before(step):
            if each in self.happened.done:
                continue
            if self.removed(each) and self.state(each) == "not needed":
                found += self.unmet(each)
            else:
                found.append(each)
        return found
