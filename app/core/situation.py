"""Where a run stands at a moment: a function of (procedure, state, elapsed second). It offers and decides nothing."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property, lru_cache

from app.core.arranging import arrangement
from app.core.freeing import with_freed
from app.core.limits import RunLimit, SupplyState, run_limit, supply_states
from app.core.network import Network, TaskLists, build, task_lists
from app.core.passes import Facts, Latest, Timeline, backward, fit, plan, project
from app.core.procedure import Designator, Procedure, Step, StepId, Task, TaskId
from app.core.state import State

AMENDED_KEPT = 16
"""Of one revision so many sets of added steps are kept ready; a run has one, its past moments others. Our own bound."""


class StepState(StrEnum):
    WAITING = "waiting"
    READY = "ready"
    UNDER_WAY = "under way"
    DONE = "done"
    PUT_OFF = "put off"
    NOT_NEEDED = "not needed"


class Prepared:
    """What depends on the procedure alone: its network, its plan and the plan's late times. Made once a revision.

    `base` is the revision's own, without the steps that a run has added to it.
    """

    def __init__(self, procedure: Procedure, base: "Prepared | None" = None) -> None:
        self.procedure = procedure
        self.base = base or self
        self._amend = lru_cache(AMENDED_KEPT)(self._amended)
        self.network = build(procedure)
        self.plan = plan(self.network)
        self.lists: TaskLists = task_lists(procedure)

    def amended(self, added: tuple[Task, ...]) -> "Prepared":
        """The same revision with these tasks of a run behind its own: step numbers and the plan stay as they are."""
        return self.base._amend(added) if added else self.base

    def _amended(self, added: tuple[Task, ...]) -> "Prepared":
        return Prepared(replace(self.procedure, tasks=(*self.procedure.tasks, *added)), self)

    @cached_property
    def late(self) -> Latest:
        return backward(self.network, self.plan)

    @cached_property
    def critical(self) -> tuple[int, ...]:
        """The steps of the plan without float, in order of time."""
        numbers = (step for step in self.network.order if self.late.float_s(self.plan, step) == 0)
        return tuple(sorted(numbers, key=self.plan.times))

    @cached_property
    def followers(self) -> tuple[tuple[int, ...], ...]:
        """For each step those that have it as a prerequisite, in file order."""
        found: list[list[int]] = [[] for _ in self.network.steps]
        for later, links in enumerate(self.network.before):
            for earlier, _ in links:
                found[earlier].append(later)
        return tuple(tuple(each) for each in found)


@dataclass(frozen=True, slots=True)
class PersonView:
    """One person's place in the run.

    Attributes:
        lead_s: plan minus projection of the finish of their next open nominal step; after the last one, of their last.
        next: the step that is next in their list, taken work included; None when nothing is left.
        float_s: how much `next` may slip before the projected finish moves; None when nothing is left.
    """

    designator: Designator
    lead_s: int
    next: StepId | None
    float_s: int | None


class Situation:
    """The plan, the projection, the leads and the step states of one run at elapsed second `at_s`.

    The figures of the first paragraph of every screen are made here once; what costs more is made when it is asked for.
    """

    def __init__(self, prepared: Prepared, state: State, at_s: int) -> None:
        self.prepared = prepared.amended(tuple(each.task for each in state.added.values()))
        self.procedure = self.prepared.procedure
        self.state = state
        self.at_s = at_s
        self.facts = facts_of(self.prepared.network, state)
        network = revised(self.prepared.network, state)
        self.arranged = arrangement(self.procedure, self.prepared.lists, network, state, self.facts)
        self.lists, self.network = self.arranged.lists, self.arranged.network
        self.facts = with_freed(self.network, self.facts)
        self.projection = project(self.network, self.facts, at_s)

    @property
    def plan(self) -> Timeline:
        return self.prepared.plan

    @property
    def lead_s(self) -> int:
        """Team lead: plan finish minus projected finish of the nominal and added steps still in the run, seconds."""
        return self.lead_of(self.projection)

    @property
    def dropped(self) -> tuple[str, ...]:
        """The new orders that can't be kept any more, in sentences; the order before each of them stands."""
        return self.arranged.dropped

    def lead_of(self, timeline: Timeline) -> int:
        return self.plan.end_s - timeline.end_s

    @property
    def room_s(self) -> int | None:
        """The run's limit minus the projected finish; None without a limit."""
        limit = self.limit
        return None if limit is None else limit.at_s - self.projection.end_s

    @cached_property
    def limit(self) -> RunLimit | None:
        """What the run must not pass, and what sets it; None without a limit."""
        return run_limit(self.procedure.limits.finish_s, self.gauges)

    @cached_property
    def gauges(self) -> tuple[SupplyState, ...]:
        """Every gauge with its line and time to reserve, supplies and their people in file order."""
        return supply_states(self.procedure, self.state.watch)

    @cached_property
    def late(self) -> Latest:
        return backward(self.network, self.projection, self.facts)

    @cached_property
    def crew(self) -> tuple[PersonView, ...]:
        return tuple(self._person(seat, person) for seat, person in enumerate(self.network.crew))

    def person(self, designator: Designator) -> PersonView:
        """Raises KeyError for somebody who is not of the crew."""
        if designator not in self.network.crew:
            raise KeyError(designator)
        return self.crew[self.network.crew.index(designator)]

    def _person(self, seat: int, designator: Designator) -> PersonView:
        open_steps = [step for step in self.network.lists[seat] if self.is_open(step)]
        return PersonView(
            designator=designator,
            lead_s=self._person_lead(seat),
            next=self.id(open_steps[0]) if open_steps else None,
            float_s=self.late.float_s(self.projection, open_steps[0]) if open_steps else None,
        )

    def _person_lead(self, seat: int) -> int:
        nominal = [
            step for step in self.network.lists[seat] if self.network.nominal[step] and step not in self.facts.removed
        ]
        if not nominal:
            return 0
        measured = next((step for step in nominal if step not in self.facts.done), nominal[-1])
        return self.plan.times(measured)[1] - self.projection.times(measured)[1]

    def on_plan_or_ahead(self, lead_s: int) -> bool:
        """Whether a person's lead reads "on plan" or "ahead"."""
        return lead_s >= -self.procedure.on_plan_within_s

    # Steps, by number

    def id(self, step: int) -> StepId:
        return self.network.steps[step].id

    def step(self, step: StepId) -> Step:
        """Raises KeyError for an unknown step."""
        return self.network.steps[self.network.index[step]]

    def is_in(self, step: int) -> bool:
        """Whether the step belongs to this run: nominal, taken, or added."""
        return self.projection.finish_s[step] is not None

    def is_open(self, step: int) -> bool:
        return self.is_in(step) and step not in self.facts.done and step not in self.facts.removed

    def open_before(self, step: int) -> list[int]:
        """The prerequisites that are not done, looking through steps that were put off or are not needed."""
        return [earlier for earlier, _ in self.prerequisites(step) if earlier not in self.facts.done]

    def prerequisites(self, step: int) -> Iterator[tuple[int, int]]:
        """(step, wait) for each hard prerequisite; one that was removed stands for its own, waits added up."""
        for earlier, wait_s in self.network.before[step]:
            if earlier in self.facts.removed:
                for further, more_s in self.prerequisites(earlier):
                    yield further, wait_s + more_s
            else:
                yield earlier, wait_s

    def busy_before(self, step: int) -> list[int]:
        """The open steps before this one in its people's lists."""
        return [
            earlier
            for seat in self.network.people[step]
            for earlier in self._ahead_of(seat, step)
            if self.is_open(earlier)
        ]

    def _ahead_of(self, seat: int, step: int) -> tuple[int, ...]:
        one_list = self.network.lists[seat]
        return one_list[: one_list.index(step)] if step in one_list else ()

    def time_has_come(self, step: int) -> bool:
        """Whether waits, `not_before` and the window would let the step start now, its prerequisites being done."""
        bar = max(self.network.not_before_s[step], self.facts.floor_s.get(step, 0), self._allowed_s(step))
        spans = self.network.spans[step]
        return bar <= self.at_s and (spans is None or fit(self.at_s, self.network.takes_s[step], spans) == self.at_s)

    def _allowed_s(self, step: int) -> int:
        """What prerequisites that are done allow; one that was removed passes on what it waited for, from zero if that
        is nothing."""
        found = [0]
        for earlier, wait_s in self.network.before[step]:
            if earlier in self.facts.removed:
                found.append(self._allowed_s(earlier) + wait_s)
            else:
                found.append(self.facts.done.get(earlier, 0) + wait_s)
        return max(found)

    def state_of(self, step: int) -> StepState:
        """A step is taken to be under way as soon as it can be; `ready` means only its people are still busy."""
        if step in self.facts.done:
            return StepState.DONE
        if step in self.facts.removed:
            return StepState.NOT_NEEDED if self.id(step) in self.state.not_needed else StepState.PUT_OFF
        if step in self.facts.started:
            return StepState.UNDER_WAY
        if self.open_before(step) or step in self.projection.misses:
            return StepState.WAITING
        if self.busy_before(step):
            return StepState.READY if self.time_has_come(step) else StepState.WAITING
        return StepState.UNDER_WAY if self.projection.times(step)[0] <= self.at_s else StepState.WAITING

    @cached_property
    def states(self) -> tuple[StepState | None, ...]:
        """By step number; None for a step that is not in the run."""
        return tuple(self.state_of(step) if self.is_in(step) else None for step in range(len(self.network.steps)))

    def begun(self, task: TaskId) -> bool:
        """Whether the task is done in part, called or counted, or taken to be under way now."""
        return task in self._begun

    @cached_property
    def _begun(self) -> frozenset[TaskId]:
        under_way = {
            step.task
            for step, state in zip(self.network.steps, self.states, strict=True)
            if state is StepState.UNDER_WAY
        }
        return self.state.begun_tasks | under_way

    def at_hold(self, designator: Designator) -> StepId | None:
        """The hold at which this person stands now, if any."""
        step = self.person(designator).next
        if step is None or not self.step(step).go:
            return None
        return step if self.states[self.network.index[step]] is StepState.UNDER_WAY else None

    def missing_go(self, step: Step) -> tuple[Designator, ...]:
        """Who has not given a go at this hold, in file order."""
        answers = self.state.answers.get(step.id, {})
        return tuple(person for person in step.go if not (person in answers and answers[person].go))


def revised(network: Network, state: State) -> Network:
    """The network with the durations that are counted on now; the plan's own keeps those of the file."""
    if not state.takes:
        return network
    takes = zip(network.steps, network.takes_s, strict=True)
    return replace(network, takes_s=tuple(state.takes.get(step.id, takes_s) for step, takes_s in takes))


def facts_of(network: Network, state: State) -> Facts:
    """The state by step number."""
    index = network.index
    came_s = {task: taken.at_s for task, taken in state.taken.items()}
    came_s |= {task: added.at_s for task, added in state.added.items()}
    out = {*state.put_off, *state.not_needed}
    done = {index[step]: mark.at_s for step, mark in state.done.items()}
    floor = {number: came_s[step.task] for number, step in enumerate(network.steps) if step.task in came_s}
    removed = {
        number: min(state.off_since.get(name, 0) for name in (step.task, step.id) if name in out)
        for number, step in enumerate(network.steps)
        if number not in done and (step.task in out or step.id in out)
    }
    started = {index[step]: at_s for step, at_s in state.started.items()}
    return Facts(done=done, started=started, removed=frozenset(removed), floor_s=floor, removed_s=removed)
