"""Puts one task into an order that is there already: quicker than sorting anew for each place. It knows no times.

Any order in which a step comes after all that it waits for gives the same times (`passes.project`), so an order may be
kept and the task's steps put between the last step that they wait for and the first one that waits for them.
"""

from collections.abc import Collection, Sequence

from app.core.network import Network, Places
from app.core.procedure import TaskId


class Placing:
    """One task and the order without it; `at` is asked for each place.

    Attributes:
        own: the task's steps. rest: the network's order without them. spot: where each step stands in `rest`.
        lower, upper: the task fits into `rest` from index `lower` to index `upper`, as far as prerequisites go.
        held: each person's steps that still hold a place in their list, without the task's own.
    """

    def __init__(self, network: Network, task: TaskId, done: Collection[int], removed: Collection[int]) -> None:
        self.network = network
        self.own = tuple(number for number, step in enumerate(network.steps) if step.task == task)
        own = frozenset(self.own)
        self.rest = tuple(number for number in network.order if number not in own)
        self.spot = {number: spot for spot, number in enumerate(self.rest)}
        earlier = {each for number in self.own for each, _ in network.before[number]} - set(done)
        self.lower = max((self.spot[each] + 1 for each in earlier if each in self.spot), default=0)
        self.upper = next(
            (spot for spot, number in enumerate(self.rest) if self._waits(number, own, done)), len(self.rest)
        )
        self.held = [
            [number for number in one_list if number not in done and number not in removed and number not in own]
            for one_list in network.lists
        ]

    def _waits(self, number: int, own: frozenset[int], done: Collection[int]) -> bool:
        return number not in done and any(earlier in own for earlier, _ in self.network.before[number])

    def at(self, places: Places) -> tuple[int, ...] | None:
        """A topological order with the task at these places.

        None when this order can't be kept: then it must be arranged anew, and that tells whether it can be done at all.
        """
        lower, upper = self.lower, self.upper
        for person, before in places:
            held = self.held[self.network.crew.index(person)]
            gap = self._gap(held, before)
            if gap is None:
                return None
            if gap > 0:
                lower = max(lower, self.spot[held[gap - 1]] + 1)
            if gap < len(held):
                upper = min(upper, self.spot[held[gap]])
        return (*self.rest[:upper], *self.own, *self.rest[upper:]) if lower <= upper else None

    def _gap(self, held: Sequence[int], before: TaskId | None) -> int | None:
        """The index in a list before which the task stands; None where the task that it comes before holds no place."""
        if before is None:
            return len(held)
        return next((gap for gap, number in enumerate(held) if self.network.steps[number].task == before), None)
