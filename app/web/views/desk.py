"""The Desk: a band per person, with the step now, the buttons that are due, and what comes next."""

from collections.abc import Mapping
from dataclasses import dataclass

from app.core.procedure import Designator, StepId
from app.core.situation import Situation
from app.core.times import clock
from app.core.turn_back import limit_s
from app.core.undoing import Press, last_of, undoable
from app.web import keys
from app.web.charts import Strip, TimeLine, axis, strip, time_line
from app.web.views.band_now import Now, now
from app.web.views.figures import Lead, lead
from app.web.views.step_progress import Reading, typed_readings
from app.web.views.step_words import awaited_by, is_revised, notes_on, others_of, tag_words, takes_words

NEXT_SHOWN = 3
NewKey = keys.NewKey


@dataclass(frozen=True, slots=True)
class NextStep:
    id: StepId
    text: str
    notes: tuple[str, ...]
    tag: str


@dataclass(frozen=True, slots=True)
class Undo:
    """The last press, which can be taken back; `done` says what it did and when: ``counted 4 of 8, 01:04:20``."""

    step: StepId
    text: str
    done: str
    key: str


@dataclass(frozen=True, slots=True)
class Correction:
    """The last mark, which can get another time or other values: `readings` hold what was recorded."""

    step: StepId
    text: str
    at: str
    readings: tuple[Reading, ...]
    key: str


@dataclass(frozen=True, slots=True)
class Band:
    """One person on the Desk. `digit` is the key that chooses it, None from the tenth on.

    `own`: whoever presses sits at their own console, and answers for nobody else. `noted`: notes on the person.
    """

    designator: str
    does: str
    digit: int | None
    lead: Lead
    now: Now | None
    coming: tuple[NextStep, ...]
    left: int
    undo: Undo | None
    correction: Correction | None
    strip: Strip | None
    own: bool = False
    noted: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Desk:
    line: TimeLine
    bands: tuple[Band, ...]


def desk(situation: Situation, new_key: NewKey) -> Desk:
    """A band for each of the crew in file order, and one for the steps of nobody while any is open or done."""
    scale = axis(situation.plan.end_s, situation.projection.end_s, limit_s(situation))
    presses = undoable(situation)
    bands = [
        _band(situation, seat, new_key, presses, strip(situation, seat, scale), None)
        for seat in range(len(situation.network.crew))
    ]
    nobody = _nobody(situation)
    if nobody:
        bands.append(_nobody_band(situation, nobody, new_key, presses, len(bands)))
    return Desk(time_line(situation, scale), tuple(bands))


def band(situation: Situation, designator: Designator, new_key: NewKey) -> Band:
    """One person's band alone, at their own console. Raises ValueError for somebody who is not of the crew."""
    return _band(situation, situation.network.crew.index(designator), new_key, undoable(situation), None, designator)


Presses = Mapping[int, Press]
"""What can be undone, by step number."""


def _band(
    situation: Situation, seat: int, new_key: NewKey, presses: Presses, drawn: Strip | None, own: Designator | None
) -> Band:
    person = situation.procedure.crew[seat]
    view = situation.crew[seat]
    steps = situation.network.lists[seat]
    open_steps = [step for step in steps if situation.is_open(step)]
    return Band(
        designator=person.designator,
        does=person.does,
        digit=seat + 1 if seat < 9 else None,
        lead=lead(view.lead_s, situation.procedure.on_plan_within_s),
        now=now(situation, open_steps[0], new_key, person.designator, own) if open_steps else None,
        coming=tuple(_next(situation, step) for step in open_steps[1 : 1 + NEXT_SHOWN]),
        left=max(0, len(open_steps) - 1 - NEXT_SHOWN),
        undo=_undo(situation, presses, person.designator, new_key),
        correction=_correction(situation, list(steps), new_key),
        strip=drawn,
        own=own is not None,
        noted=notes_on(situation, person.designator),
    )


def _nobody(situation: Situation) -> list[int]:
    return [step for step in situation.network.order if not situation.network.people[step]]


def _nobody_band(situation: Situation, steps: list[int], new_key: NewKey, presses: Presses, seat: int) -> Band:
    open_steps = sorted(
        (step for step in steps if situation.is_open(step)), key=lambda step: situation.projection.times(step)
    )
    return Band(
        designator="Nobody",
        does="waits and steps without a person",
        digit=seat + 1 if seat < 9 else None,
        lead=Lead("", "even"),
        now=now(situation, open_steps[0], new_key, None, None) if open_steps else None,
        coming=tuple(_next(situation, step) for step in open_steps[1 : 1 + NEXT_SHOWN]),
        left=max(0, len(open_steps) - 1 - NEXT_SHOWN),
        undo=_undo(situation, presses, None, new_key),
        correction=_correction(situation, steps, new_key),
        strip=None,
    )


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


def _undo(situation: Situation, presses: Presses, person: Designator | None, new_key: NewKey) -> Undo | None:
    press = last_of(situation, presses, person)
    if press is None or situation.state.ended_s is not None:
        return None
    return Undo(press.step, situation.step(press.step).do, f"{press.words} {clock(press.at_s)}", new_key())


def _correction(situation: Situation, steps: list[int], new_key: NewKey) -> Correction | None:
    """Of the step of this list that was marked last; older marks are corrected from the log."""
    marks = {number: situation.state.done[situation.id(number)] for number in steps if number in situation.facts.done}
    if not marks or situation.state.ended_s is not None:
        return None
    number = max(marks, key=lambda each: marks[each].seq)
    step = situation.network.steps[number]
    return Correction(
        step.id, step.do, clock(marks[number].at_s), typed_readings(step, marks[number].values), new_key()
    )
