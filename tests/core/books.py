"""What has been entered of a run, and what stands in a step's way: the ledger's books, in the words of the rules. It
shares no code with the core.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

from app.core.procedure import Procedure, Step, StepId

Values = dict[str, float]


@dataclass(frozen=True)
class Entry:
    """A call or a mark: when, by which order, with which values, whether the lead ordered it, and the answers to it."""

    at_s: int
    order: int
    values: Values
    ordered: bool
    accepted_s: int | None = None
    confirmed_s: int | None = None


@dataclass
class Books:
    procedure: Procedure
    orders: int = 0
    done: dict[StepId, Entry] = field(default_factory=dict)
    called: dict[StepId, Entry] = field(default_factory=dict)
    counts: dict[StepId, list[tuple[int, int]]] = field(default_factory=dict)
    acks: dict[tuple[StepId, str], int] = field(default_factory=dict)
    answers: dict[tuple[StepId, str], tuple[bool, int]] = field(default_factory=dict)
    started: dict[StepId, int] = field(default_factory=dict)
    not_needed: dict[StepId, int] = field(default_factory=dict)
    completing: set[int] = field(default_factory=set)

    def before(self, step: Step) -> Iterator[tuple[Step, int]]:
        """What a step waits for and for how long after it; what is not needed passes on what it waited for."""
        named = [(step.task, step.number - 1, 0)] if step.number > 1 else []
        for link in step.after:
            numbers = [one.number for one in self.procedure.task(link.task).steps if link.step in (None, one.number)]
            named += [(link.task, number, link.wait_s) for number in numbers]
        for task, number, wait_s in named:
            earlier = self.procedure.step(f"{task}/{number}")
            if earlier.id in self.not_needed:
                yield from ((each, more_s + wait_s) for each, more_s in self.before(earlier))
            else:
                yield earlier, wait_s

    def barred(self, step: Step, at_s: int) -> bool:
        return any(
            each.id not in self.done or at_s < self.done[each.id].at_s + wait_s for each, wait_s in self.before(step)
        )

    def all_go(self, step: Step) -> bool:
        return all(self.answers.get((step.id, person), (False, 0))[0] for person in step.go)

    def hold_on_the_way(self, step: Step) -> bool:
        """Whether an open hold that is not go lies on any way back from the step."""
        back = [each for each, _ in self.before(step) if each.id not in self.done]
        return any(not self.all_go(each) or self.hold_on_the_way(each) for each in back)

    def firm(self, step: Step, at_s: int) -> bool:
        """What no order passes is met: warnings read at all, and by then goes, the start, the actions before."""
        read = not step.warning or all((step.id, person) in self.acks for person in step.who)
        return self.all_go(step) and read and self.by_then(step, at_s)

    def by_then(self, step: Step, at_s: int, but_s: int | None = None) -> bool:
        """`but_s`: actions of that moment go with the mark."""
        known = [when for (one, person), (_, when) in self.answers.items() if one == step.id and person in step.go]
        known += [when for when, _ in self.counts.get(step.id, []) if when != but_s]
        return all(when <= at_s for when in (*known, self.started.get(step.id, 0)))

    def wanting(self, step: Step, values: Values) -> bool:
        return any(value.name not in values for value in step.record)

    def outside(self, step: Step, values: Values) -> bool:
        return any(not 2 <= values[value.name] <= 6 for value in step.record if value.name in values)
