"""What if: changes said in a few words, and the run that would follow. It stores nothing and gives no order."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.core.changes import MOST_CHANGES, read
from app.core.commands import Command, Refusal
from app.core.decide import decide
from app.core.events import Event
from app.core.situation import Situation
from app.core.suppose import suppose
from app.core.words import sentence


@dataclass(frozen=True, slots=True)
class Change:
    """One change: as it was said, the order that would make it so, and what would then stand in the log."""

    said: str
    command: Command
    events: tuple[Event, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Supposed:
    """The changes one after another, and where the run would stand."""

    changes: tuple[Change, ...]
    then: Situation

    @property
    def commands(self) -> tuple[Command, ...]:
        return tuple(change.command for change in self.changes)


def what_if(situation: Situation, said: Sequence[str], reason: str = "what if") -> Supposed:
    """Each change in the run that those before it lead to.

    Raises:
        Refusal: one of them can't be read, or its order would be refused.
    """
    if len(said) > MOST_CHANGES:
        raise Refusal("too-long", f"At most {MOST_CHANGES} changes at once.")
    changes, then = list[Change](), situation
    for text in said:
        command = read(then, text, reason)
        events = decide(then, command, then.at_s)
        after = suppose(then, events)
        words = "; ".join(sentence(event, after.procedure).removesuffix(f" {reason}") for event in events)
        changes.append(Change(" ".join(text.split()), command, events, words))
        then = after
    return Supposed(tuple(changes), then)
