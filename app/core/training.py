"""What whoever trains may order in a rehearsal: its clock, its simulated people, trouble. It stores nothing."""

from collections.abc import Iterator
from dataclasses import replace

from app.core.commands import Refusal, said_or_nothing
from app.core.commands_rehearsal import (
    DrawTrouble,
    DropInject,
    NoteInjectDone,
    RehearsalCommand,
    RuleClock,
    SetInject,
    SetPlayers,
)
from app.core.events import Event
from app.core.events_rehearsal import INJECTS, ClockRuled, InjectDone, InjectDropped, InjectSet, PlayersSet
from app.core.procedure import Designator, Step, StepId
from app.core.situation import Situation
from app.core.times import clock
from app.core.trouble import draw_trouble

LEAST_RATE, MOST_RATE = 0.25, 120.0
"""How slowly and how fast a rehearsal's clock may go when it does not stand. Our own bounds, no source."""
MOST_ELAPSED_S = 1000 * 3600
MOST_SEED = 2**53 - 1
"""JSON in a browser has no larger whole numbers (RFC 8259, 6)."""
MOST_OPEN = 100
"""Troubles that may be to come at once. Our own bound."""
MOST_DRAWN = 20
ALL = 1_000_000

_NEEDS = {"delay": "step", "failed step": "step", "wrong reading": "", "lost tool": "tool", "no-go": "person"}


def order(situation: Situation, command: RehearsalCommand) -> tuple[Event, ...]:
    """The events that carry out an order of whoever trains.

    Raises:
        Refusal: this is no rehearsal, or the order can't be carried out.
    """
    if situation.state.kind != "rehearsal":
        raise Refusal("not-a-rehearsal", "This run is live: its clock is the world's, and nothing in it is made up.")
    match command:
        case RuleClock():
            return (_ruled(situation, command),)
        case SetPlayers(who, seed):
            return (_players(situation, who, seed),)
        case SetInject():
            return (_inject(situation, command),)
        case DrawTrouble(count, seed):
            return tuple(_drawn(situation, count, seed))
        case DropInject(inject):
            return (InjectDropped(_open(situation, inject)),)
        case NoteInjectDone(inject):
            return (InjectDone(_open(situation, inject)),)


def _ruled(situation: Situation, command: RuleClock) -> ClockRuled:
    was, now_s = situation.state.rehearsal.ruling.rate, situation.at_s
    rate = was if command.rate is None else command.rate
    to_s = now_s if command.to_s is None else command.to_s
    if rate != 0 and not LEAST_RATE <= rate <= MOST_RATE:
        raise Refusal("bad-rate", f"The clock stands, or goes {LEAST_RATE:g} to {MOST_RATE:g} times as fast.")
    if to_s < now_s:
        raise Refusal(
            "back",
            f"The clock can't be set back from {clock(now_s)} to {clock(max(0, to_s))}: what is logged has happened. "
            "Start another rehearsal, and set its clock forward.",
        )
    if to_s > MOST_ELAPSED_S:
        raise Refusal("bad-time", "A run lasts less than 1,000 hours.")
    if (rate, to_s) == (was, now_s):
        raise Refusal("no-change", "The clock goes like that already.")
    return ClockRuled(rate, to_s)


def _players(situation: Situation, who: tuple[Designator, ...], seed: int) -> PlayersSet:
    crew = situation.network.crew
    for person in who:
        _known_person(situation, person)
    _sound_seed(seed)
    event = PlayersSet(tuple(person for person in crew if person in who), seed)
    rehearsal = situation.state.rehearsal
    if event == PlayersSet(rehearsal.players, rehearsal.seed):
        raise Refusal("no-change", "They are played like that already.")
    return event


def _sound_seed(seed: int) -> None:
    if not 0 <= seed <= MOST_SEED:
        raise Refusal("bad-number", f"A seed is a whole number from 0 to {MOST_SEED:,}.")


def _open(situation: Situation, inject: str) -> str:
    if inject not in situation.state.rehearsal.injects:
        raise Refusal("unknown", f"No trouble to come is called “{inject[:40]}”; it may have happened already.")
    return inject


def _drawn(situation: Situation, count: int, seed: int) -> Iterator[InjectSet]:
    """The first `count` of all that the seed draws for the procedure that can still happen."""
    _sound_seed(seed)
    if not 1 <= count <= MOST_DRAWN:
        raise Refusal("bad-number", f"From 1 to {MOST_DRAWN} troubles can be drawn at once.")
    made = 0
    for trouble in draw_trouble(situation.prepared.base, seed, ALL):
        if made < count and _can_happen(situation, trouble):
            yield replace(_inject(situation, trouble, made), seed=seed)
            made += 1
    if not made:
        raise Refusal("over", "Nothing is left that trouble could befall.")


def _can_happen(situation: Situation, trouble: SetInject) -> bool:
    number = None if trouble.step is None else situation.network.index[trouble.step]
    is_over = number is not None and not situation.is_open(number)
    return not is_over and (trouble.from_s is None or trouble.from_s >= situation.at_s)


def _inject(situation: Situation, command: SetInject, others: int = 0) -> InjectSet:
    """`others`: how many are set by the same order before this one."""
    rehearsal = situation.state.rehearsal
    if command.what not in INJECTS:
        raise Refusal("unknown", f"Trouble is one of: {', '.join(INJECTS)}.")
    if len(rehearsal.injects) + others >= MOST_OPEN:
        raise Refusal("too-many", f"{MOST_OPEN} troubles are to come already; drop one first.")
    needed = _NEEDS[command.what]
    if needed and not getattr(command, needed):
        raise Refusal("incomplete", f"A {command.what} needs a {needed}.")
    from_s = situation.at_s if command.from_s is None else command.from_s
    if not situation.at_s <= from_s <= MOST_ELAPSED_S:
        raise Refusal("bad-time", f"Trouble begins now, at {clock(situation.at_s)}, or later.")
    step = None if command.step is None else _open_step(situation, command.step)
    command = _named(command, step)
    _sound(situation, command, step)
    return InjectSet(
        inject=f"inject-{rehearsal.set + others + 1}",
        what=command.what,
        from_s=from_s,
        text=said_or_nothing(command.text),
        person=command.person,
        step=command.step,
        tool=command.tool,
        supply=command.supply,
        name=command.name,
        value=command.value,
        by_s=command.by_s,
    )


def _named(command: SetInject, step: Step | None) -> SetInject:
    """A step that records one value need not be told which."""
    if step is None or command.name or command.what != "wrong reading" or len(step.record) != 1:
        return command
    return replace(command, name=step.record[0].name)


def _sound(situation: Situation, command: SetInject, step: Step | None) -> None:
    """What it names is there, and can still have that trouble."""
    procedure = situation.procedure
    if command.person is not None:
        _known_person(situation, command.person)
    if command.tool is not None and command.tool not in procedure.tools:
        raise Refusal("unknown", f"No tool of this procedure is called “{command.tool[:40]}”.")
    if not 0 <= command.by_s <= 24 * 3600:
        raise Refusal("bad-time", "That is less than 0 s or more than a day.")
    if command.what == "delay" and command.by_s == 0:
        raise Refusal("incomplete", "Say by how much it is longer, such as 5 min.")
    if command.what == "wrong reading":
        _sound_reading(situation, command, step)
    if command.what == "no-go" and step is not None and command.person not in step.go:
        raise Refusal("not-asked", f"{command.person} is not asked at {step.id}.")


def _sound_reading(situation: Situation, command: SetInject, step: Step | None) -> None:
    if step is not None:
        names = tuple(value.name for value in step.record)
        if command.name not in names:
            known = f"it records {', '.join(names)}" if names else "it records none"
            raise Refusal("unknown", f"Say which value of {step.id} is wrong: {known}.")
    elif command.supply not in [supply.name for supply in situation.procedure.supplies]:
        raise Refusal("incomplete", "Say which gauge, or which step's value, is read wrongly.")
    elif command.value is None:
        raise Refusal("incomplete", "Say what the gauge shows.")


def _known_person(situation: Situation, person: Designator) -> None:
    if person not in situation.network.crew:
        raise Refusal("unknown", f"Nobody of this run is called {person[:40]}.")


def _open_step(situation: Situation, step: StepId) -> Step:
    number = situation.network.index.get(step)
    if number is None:
        raise Refusal("unknown", f"There is no step {step[:80]}.")
    if number in situation.facts.done or number in situation.facts.removed:
        raise Refusal("over", f"{step} is over: nothing can befall it any more.")
    return situation.network.steps[number]
