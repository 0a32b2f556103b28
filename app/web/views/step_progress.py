"""How far a step is, for its band: warnings read, answers at a hold, values, counts, calls. It carries nothing out."""

from dataclasses import dataclass

from app.core.commands import joined
from app.core.completing import next_action
from app.core.numbers import digits
from app.core.procedure import Designator, Step, Value
from app.core.progress import Called, Counted
from app.core.situation import Situation, StepState
from app.core.times import clock
from app.core.watch import Answer
from app.core.words_live import outside, reading_words, value_words

MOST_BOXES = 40
"""More actions than that are told in words alone: a row of so many boxes can't be counted by eye. Our own bound."""


@dataclass(frozen=True, slots=True)
class Press:
    """A button of the band's form. `do` is what it sends: an order, and after a colon whom or which it is about."""

    do: str
    label: str


@dataclass(frozen=True, slots=True)
class Reader:
    """One of a step's people and its warning: `read_at` is empty, and `press` may be there, while it is not read."""

    person: Designator
    read_at: str
    press: Press | None


@dataclass(frozen=True, slots=True)
class Caller:
    """One person who is asked at a hold.

    Attributes:
        said: ``go``, ``no-go`` or ``none``; it picks a shape. words: that with its time, reason and way.
        press: to say go, if it can be said here. lifts: the same where a no-go stands, which needs its reason.
    """

    person: Designator
    said: str
    words: str
    press: Press | None
    lifts: Press | None


@dataclass(frozen=True, slots=True)
class Hold:
    """`may_refuse`: who can be said to be no-go here."""

    words: str
    callers: tuple[Caller, ...]
    may_refuse: tuple[Designator, ...]


@dataclass(frozen=True, slots=True)
class Reading:
    """A value to type: the id of its input, its tolerance in words and as bounds, and what was called last."""

    id: str
    name: str
    unit: str
    tolerance: str
    low: str
    high: str
    typed: str


@dataclass(frozen=True, slots=True)
class Count:
    """`boxes` says of each action whether it is done; empty when there are too many. `times`: ``1 at 01:02:03``."""

    words: str
    boxes: tuple[bool, ...]
    times: tuple[str, ...]
    next: int | None
    of: int


@dataclass(frozen=True, slots=True)
class Call:
    """A step that was called complete and waits. `out`: a sentence for each value out of tolerance.

    `accepts`: the lead's acceptance is missing. `confirms`: the second person's word is.
    """

    out: tuple[str, ...]
    words: str
    remedy: str
    accepts: bool
    confirms: bool


def readers(situation: Situation, step: Step, own: Designator | None) -> tuple[Reader, ...]:
    """The people of a step with a warning. With `own`, on their own console, only they can say so themselves."""
    known = situation.state.progress.acks.get(step.id, {})
    return tuple(
        Reader(who, clock(known[who]), None) if who in known else Reader(who, "", _reads(who, own))
        for who in (step.who if step.warning else ())
    )


def _reads(who: Designator, own: Designator | None) -> Press | None:
    if own is None:
        return Press(f"acknowledge:{who}", f"{who} has acknowledged")
    return Press(f"acknowledge:{who}", "I have read the warning") if own == who else None


def hold(situation: Situation, number: int, own: Designator | None) -> Hold | None:
    """None for a step that is no hold. Nobody can answer before it is reached."""
    step = situation.network.steps[number]
    if not step.go:
        return None
    reached = not situation.open_before(number)
    callers = tuple(_caller(situation, step, person, own, reached) for person in step.go)
    able = tuple(each for each in step.go if reached and own in (None, each))
    standing = {each.person for each in callers if each.said == "no-go"}
    return Hold(_hold_words(situation, number), callers, tuple(each for each in able if each not in standing))


def _hold_words(situation: Situation, number: int) -> str:
    missing = situation.missing_go(situation.network.steps[number])
    if not missing:
        return "All are go."
    since = ""
    if situation.states[number] is StepState.UNDER_WAY:
        since = f" It waits since {clock(situation.projection.times(number)[0])}."
    return f"Go needed from {joined(missing)}.{since}"


def _caller(situation: Situation, step: Step, person: Designator, own: Designator | None, reached: bool) -> Caller:
    return caller(person, situation.state.answer(step.id, person), "go", own, reached)


def caller(person: Designator, answer: Answer | None, order: str, own: Designator | None, able: bool = True) -> Caller:
    """Somebody asked, at a hold or in a poll. `order`: the one that says go; `able`: it can be said at all now."""
    press = None
    if able and own in (None, person) and not (answer is not None and answer.go):
        press = Press(f"{order}:{person}", "I am go" if own else f"{person} is go")
    if answer is None:
        return Caller(person, "none", "no answer yet", press, None)
    return Caller(person, "go" if answer.go else "no-go", said_words(answer), None, press)


def said_words(answer: Answer) -> str:
    """``go 02:13:50, heard on the loop, entered by Ines``; of a go that lifts a no-go also what lifted it."""
    way = f"heard on the loop, entered by {answer.by}" if answer.heard else f"own console, signed {answer.by}"
    said = f"{'go' if answer.go else 'NO-GO'} {clock(answer.at_s)}"
    reason = f": {answer.reason}" if answer.reason and not answer.go else ""
    lifted = f"; the no-go is lifted: {answer.reason}" if answer.reason and answer.go else ""
    return f"{said}{reason}{f', {way}' if answer.by else ''}{lifted}"


def readings(situation: Situation, step: Step) -> tuple[Reading, ...]:
    call = situation.state.progress.called.get(step.id)
    return typed_readings(step, call.values if call else ())


def typed_readings(step: Step, values: tuple[tuple[str, float], ...]) -> tuple[Reading, ...]:
    """The values that a step records, with what stands in their fields."""
    typed = dict(values)
    return tuple(
        Reading(
            id=f"value-{step.task}-{step.number}-{place}",
            name=value.name,
            unit=value.unit,
            tolerance=tolerance_words(value),
            low="" if value.low is None else digits(value.low),
            high="" if value.high is None else digits(value.high),
            typed=digits(typed[value.name]) if value.name in typed else "",
        )
        for place, value in enumerate(step.record)
    )


def tolerance_words(value: Value) -> str:
    """``14 to 17``, ``from 14``, ``up to 17``, or nothing."""
    low, high = value.low, value.high
    if low is not None and high is not None:
        return f"{low:g} to {high:g}"
    return f"from {low:g}" if low is not None else f"up to {high:g}" if high is not None else ""


def value_phrases(step: Step, values: tuple[tuple[str, float], ...]) -> str:
    """``gap left 4 mm, gap right 9 mm (OUT OF TOLERANCE)``; empty without values."""
    return reading_words(step, values).removeprefix(": ")


def count(situation: Situation, step: Step) -> Count | None:
    """None for a step that is not counted."""
    if step.count is None:
        return None
    made = situation.state.progress.counts.get(step.id, ())
    last = f", last {clock(made[-1].at_s)}" if made else ""
    return Count(
        words=f"{len(made)} of {step.count} done{last}",
        boxes=tuple(place < len(made) for place in range(step.count)) if step.count <= MOST_BOXES else (),
        times=_count_times(made),
        next=next_action(situation, step),
        of=step.count,
    )


def _count_times(made: tuple[Counted, ...]) -> tuple[str, ...]:
    """One line for each press: ``1 at 01:02:03``, ``5 to 8 at 01:04:20``."""
    presses: dict[int, list[int]] = {}
    for place, each in enumerate(made, start=1):
        presses.setdefault(each.seq, []).append(place)
    return tuple(
        f"{places[0]}{f' to {places[-1]}' if len(places) > 1 else ''} at {clock(made[places[0] - 1].at_s)}"
        for places in presses.values()
    )


def call(situation: Situation, step: Step) -> Call | None:
    """None for a step that was not called complete."""
    made = situation.state.progress.called.get(step.id)
    if made is None:
        return None
    given, asked = dict(made.values), {value.name: value for value in step.record}
    out = outside(step, made.values)
    accepts = bool(out) and made.accepted is None
    return Call(
        out=tuple(
            f"{value_words(step, name, given[name])} is OUT OF TOLERANCE ({tolerance_words(asked[name])})."
            for name in out
        ),
        words=_call_words(step, made, accepts),
        remedy="Measure again and call it again, or the lead accepts it with a reason." if accepts else "",
        accepts=accepts,
        confirms=step.confirm_by is not None and made.confirmed_s is None,
    )


def confirm(step: Step, own: Designator | None) -> Press | None:
    """For the second person of a step that was called: from the Desk, or from their own console."""
    asked = step.confirm_by
    if asked is None or own not in (None, asked):
        return None
    return Press(f"confirm:{asked}", "I confirm" if own else f"{asked} confirms")


def _call_words(step: Step, made: Called, accepts: bool) -> str:
    """What was called, what was answered since, and what is waited for."""
    said = [f"Called complete at {clock(made.at_s)}{f' by {made.by}' if made.by else ''}."]
    if made.accepted is not None and made.accepted_s is not None:
        said.append(f"The lead accepted the values at {clock(made.accepted_s)}: {made.accepted}.")
    if made.confirmed_s is not None:
        said.append(f"{step.confirm_by} confirmed at {clock(made.confirmed_s)}.")
    waits = ["for the lead's acceptance"] if accepts else []
    if step.confirm_by and made.confirmed_s is None:
        waits.append(f"until {step.confirm_by} confirms")
    return " ".join([*said, f"Waits {' and '.join(waits)}."] if waits else said)
