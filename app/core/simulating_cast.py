"""Who is simulated in a run, with the trouble that waits for them; and one act. It decides nothing."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from app.core.commands import Command
from app.core.events_rehearsal import InjectSet
from app.core.procedure import Designator, Step, StepId
from app.core.situation import Situation

LEAD = "Lead"
AFTER_GO_S = 5
"""A hold is marked so long after the last go, if it would have been done before. Our own, no source."""


@dataclass(frozen=True, slots=True)
class Act:
    """An order that is due at elapsed second `at_s`.

    Attributes:
        by: whose it is; empty for what is nobody's. inject: the trouble that takes effect with it, if one does.
    """

    at_s: int
    command: Command
    by: str = ""
    inject: str | None = None

    @property
    def signed(self) -> str:
        """``EV1 (simulated)``: as it stands in the log."""
        return f"{self.by} (simulated)" if self.by else "Simulated"


@dataclass(frozen=True, slots=True)
class Cast:
    """Attributes:
    players: who is simulated. everybody: whether that is the whole crew. seed, since_s: as in `Rehearsal`.
    open, happened: trouble that has not taken effect, and that has, by id.
    """

    players: frozenset[Designator]
    everybody: bool
    seed: int
    since_s: int
    open: Mapping[str, InjectSet]
    happened: Mapping[str, InjectSet]

    def play(self, people: tuple[Designator, ...]) -> bool:
        """Whether nobody else has a part: so of what is nobody's."""
        return self.players.issuperset(people)

    def waiting(self, *what: str, step: StepId | None = None) -> Iterator[InjectSet]:
        """Open trouble of these kinds, in the order in which it was set; with `step`, of that step only."""
        return (each for each in self.open.values() if each.what in what and (step is None or each.step == step))

    def over(self, what: str, step: StepId) -> tuple[InjectSet, ...]:
        """Trouble of this kind that has befallen the step."""
        return tuple(each for each in self.happened.values() if each.what == what and each.step == step)


def cast_of(situation: Situation) -> Cast | None:
    """None where nobody is simulated, and in a run that has ended."""
    rehearsal = situation.state.rehearsal
    if not rehearsal.players or situation.state.ended_s is not None:
        return None
    return Cast(
        frozenset(rehearsal.players),
        set(rehearsal.players) >= set(situation.network.crew),
        rehearsal.seed,
        rehearsal.since_s,
        rehearsal.injects,
        rehearsal.happened,
    )


def can_begin(situation: Situation) -> Iterator[int]:
    """The open steps that are next for each of their people, and wait for no other step, in file order.

    When each of them begins, or began, is known for sure: it follows from what is done.
    """
    lists = situation.network.lists
    heads = [next((step for step in one_list if situation.is_open(step)), None) for one_list in lists]
    nobodys = [step for step, people in enumerate(situation.network.people) if not people and situation.is_open(step)]
    for step in sorted({step for step in heads if step is not None} | set(nobodys)):
        if all(heads[seat] == step for seat in situation.network.people[step]) and not situation.open_before(step):
            yield step


def begins_s(situation: Situation, number: int) -> int:
    """The elapsed second at which a step that can begin does; after a reopening, not before that."""
    start_s, _ = situation.projection.times(number)
    return max(start_s, situation.state.progress.anew.get(situation.id(number), 0))


def not_before(situation: Situation, step: Step, at_s: int) -> int:
    """Not before its warning was read, its goes were given, and what was counted."""
    read = situation.state.progress.acks.get(step.id, {}).values()
    goes = (answer.at_s + AFTER_GO_S for answer in situation.state.answers.get(step.id, {}).values())
    counted = (action.at_s for action in situation.state.progress.counts.get(step.id, ()))
    return max([at_s, *read, *goes, *counted])


def all_over(situation: Situation) -> bool:
    """Whether nothing is left to do in the run."""
    return not any(situation.is_open(number) for number in range(len(situation.network.steps)))


def last_mark_s(situation: Situation) -> int:
    return max(situation.facts.done.values(), default=0)
