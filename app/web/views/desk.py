"""The Desk: a band per person, with the step now, the button that marks it, and what comes next."""

from collections.abc import Callable
from dataclasses import dataclass

from app.core.marking import undoable
from app.core.procedure import Designator, Step, StepId
from app.core.situation import Situation, StepState
from app.core.times import clock
from app.web.charts import Strip, TimeLine, axis, strip, time_line
from app.web.views.figures import Lead, lead, meters
from app.web.views.step_words import (
    Signal,
    answer_words,
    awaited_by,
    is_revised,
    others_of,
    signals,
    tag_words,
    takes_words,
    waits_words,
)

NEXT_SHOWN = 3
NewKey = Callable[[], str]


@dataclass(frozen=True, slots=True)
class Reading:
    """A value to type: its name, unit and tolerance in words, and the id of its input."""

    id: str
    name: str
    unit: str
    tolerance: str


@dataclass(frozen=True, slots=True)
class GoButton:
    """One person's answer at a hold: `answer` is what they said so far, in words."""

    person: Designator
    answer: str
    is_go: bool
    key: str


@dataclass(frozen=True, slots=True)
class NextStep:
    id: StepId
    text: str
    notes: tuple[str, ...]
    tag: str


@dataclass(frozen=True, slots=True)
class Undo:
    step: StepId
    text: str
    at: str
    key: str


@dataclass(frozen=True, slots=True)
class Now:
    """The step that is next in a person's list.

    Attributes:
        state: its state word. waits: what it waits for, in words; empty when it is under way.
        fig: the name of its timer figure. passed: per cent of its duration that has passed.
        tag: ``added`` or ``get-ahead``, empty for planned work. revised: what it takes now and by plan.
        primary: whether marking it is the thing to do now: nothing is open before it.
    """

    id: StepId
    task: str
    number: int
    count: int
    text: str
    tag: str
    revised: str
    who: str
    state: str
    waits: str
    awaited_by: str
    signals: tuple[Signal, ...]
    readings: tuple[Reading, ...]
    asks: tuple[GoButton, ...]
    all_go: bool
    is_hold: bool
    primary: bool
    confirm_by: str | None
    actions: int | None
    started: str | None
    may_put_off: bool
    task_id: str
    passed: float
    key: str
    key_more: str


@dataclass(frozen=True, slots=True)
class Band:
    """One person on the Desk. `digit` is the key that chooses it, None from the tenth on."""

    designator: str
    does: str
    digit: int | None
    lead: Lead
    now: Now | None
    coming: tuple[NextStep, ...]
    left: int
    undo: Undo | None
    strip: Strip | None


@dataclass(frozen=True, slots=True)
class Desk:
    line: TimeLine
    bands: tuple[Band, ...]


def desk(situation: Situation, new_key: NewKey) -> Desk:
    """A band for each of the crew in file order, and one for the steps of nobody while any is open or done."""
    limit = situation.procedure.limits.finish_s
    scale = axis(situation.plan.end_s, situation.projection.end_s, limit)
    last = undoable(situation)
    bands = [
        _band(situation, seat, new_key, last, strip(situation, seat, scale))
        for seat in range(len(situation.network.crew))
    ]
    nobody = _nobody(situation)
    if nobody:
        bands.append(_nobody_band(situation, nobody, new_key, last, len(bands)))
    return Desk(time_line(situation, scale), tuple(bands))


def band(situation: Situation, designator: Designator, new_key: NewKey) -> Band:
    """One person's band alone. Raises ValueError for somebody who is not of the crew."""
    seat = situation.network.crew.index(designator)
    return _band(situation, seat, new_key, undoable(situation), None)


def _band(situation: Situation, seat: int, new_key: NewKey, last: frozenset[int], drawn: Strip | None) -> Band:
    person = situation.procedure.crew[seat]
    view = situation.crew[seat]
    open_steps = [step for step in situation.network.lists[seat] if situation.is_open(step)]
    own = frozenset(number for number in last if seat in situation.network.people[number])
    return Band(
        designator=person.designator,
        does=person.does,
        digit=seat + 1 if seat < 9 else None,
        lead=lead(view.lead_s, situation.procedure.on_plan_within_s),
        now=_now(situation, open_steps[0], new_key, person.designator) if open_steps else None,
        coming=tuple(_next(situation, step) for step in open_steps[1 : 1 + NEXT_SHOWN]),
        left=max(0, len(open_steps) - 1 - NEXT_SHOWN),
        undo=_undo(situation, own, new_key),
        strip=drawn,
    )


def _nobody(situation: Situation) -> list[int]:
    return [step for step in situation.network.order if not situation.network.people[step]]


def _nobody_band(situation: Situation, steps: list[int], new_key: NewKey, last: frozenset[int], seat: int) -> Band:
    open_steps = sorted(
        (step for step in steps if situation.is_open(step)), key=lambda step: situation.projection.times(step)
    )
    return Band(
        designator="Nobody",
        does="waits and steps without a person",
        digit=seat + 1 if seat < 9 else None,
        lead=Lead("", "even"),
        now=_now(situation, open_steps[0], new_key, None) if open_steps else None,
        coming=tuple(_next(situation, step) for step in open_steps[1 : 1 + NEXT_SHOWN]),
        left=max(0, len(open_steps) - 1 - NEXT_SHOWN),
        undo=_undo(situation, frozenset(last & set(steps)), new_key),
        strip=None,
    )


def _now(situation: Situation, number: int, new_key: NewKey, person: Designator | None) -> Now:
    step = situation.network.steps[number]
    task = situation.procedure.task(step.task)
    state = situation.states[number]
    started = situation.state.started.get(step.id)
    return Now(
        id=step.id,
        task=task.title,
        number=step.number,
        count=len(task.steps),
        text=step.do,
        tag=tag_words(situation, step.task),
        revised=takes_words(situation, number) if is_revised(situation, number) else "",
        who=" and ".join(step.who),
        state=str(state),
        waits=waits_words(situation, number),
        awaited_by=awaited_by(situation, number),
        signals=signals(situation, step, number),
        readings=tuple(_reading(step, index) for index in range(len(step.record))),
        asks=asks(situation, step, new_key) if not situation.open_before(number) else (),
        all_go=not situation.missing_go(step),
        is_hold=bool(step.go),
        primary=state is StepState.UNDER_WAY,
        confirm_by=step.confirm_by,
        actions=step.count,
        started=None if started is None else clock(started),
        may_put_off=task.may_put_off,
        task_id=task.id,
        passed=meters(situation).get(person, 0.0) if person and state is StepState.UNDER_WAY else 0.0,
        key=new_key(),
        key_more=new_key(),
    )


def asks(situation: Situation, step: Step, new_key: NewKey) -> tuple[GoButton, ...]:
    return tuple(
        GoButton(
            person=person,
            answer=answer_words(situation, step.id, person),
            is_go=person not in situation.missing_go(step),
            key=new_key(),
        )
        for person in step.go
    )


def _reading(step: Step, index: int) -> Reading:
    value = step.record[index]
    bounds = [f"{bound:g}" for bound in (value.low, value.high) if bound is not None]
    if value.low is not None and value.high is not None:
        tolerance = f"{bounds[0]} to {bounds[1]}"
    elif bounds:
        tolerance = f"{'from' if value.low is not None else 'up to'} {bounds[0]}"
    else:
        tolerance = ""
    return Reading(f"value-{step.task}-{step.number}-{index}", value.name, value.unit, tolerance)


def _next(situation: Situation, number: int) -> NextStep:
    step = situation.network.steps[number]
    notes = []
    if step.go:
        notes.append(f"hold: go from {' and '.join(step.go)}")
    others = others_of(situation, number, situation.open_before(number))
    if others:
        notes.append(f"waits for {' and '.join(others)}")
    awaited = awaited_by(situation, number)
    if is_revised(situation, number):
        notes.append(f"takes {takes_words(situation, number)}")
    return NextStep(step.id, step.do, (*notes, awaited) if awaited else tuple(notes), tag_words(situation, step.task))


def _undo(situation: Situation, own: frozenset[int], new_key: NewKey) -> Undo | None:
    if not own or situation.state.ended_s is not None:
        return None
    number = max(own, key=lambda each: situation.state.done[situation.id(each)].seq)
    step = situation.network.steps[number]
    return Undo(step.id, step.do, clock(situation.facts.done[number]), new_key())
