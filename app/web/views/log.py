"""The Log: every event of a run in words, newest first, and what carries over."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.core.carry import carried_over
from app.core.events import Logged, StepMarked, StepNotNeeded, kind_of
from app.core.procedure import StepId
from app.core.situation import Situation
from app.core.times import clock, duration, instant
from app.core.words import sentence
from app.web.views.desk import NewKey

LATE_S = 30
"""An entry that reached the server this long after it happened is shown as late. Our own bound, no source."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One event. `late` says how much later it was entered; `reopen` names the step that can be reopened from here."""

    seq: int
    at: str
    late: str
    utc: str
    text: str
    kind: str
    by: str
    station: str
    reopen: StepId | None
    key: str


@dataclass(frozen=True, slots=True)
class Carried:
    title: str
    id: str
    steps: tuple[str, ...]
    why: str


@dataclass(frozen=True, slots=True)
class LogPage:
    entries: tuple[Entry, ...]
    carried: tuple[Carried, ...]
    over: bool


def log_page(situation: Situation, events: Sequence[Logged], new_key: NewKey) -> LogPage:
    return LogPage(
        entries=tuple(_entry(situation, logged, new_key) for logged in reversed(events)),
        carried=_carried(situation),
        over=situation.state.ended_s is not None,
    )


def _entry(situation: Situation, logged: Logged, new_key: NewKey) -> Entry:
    late_s = logged.logged_s - logged.at_s
    return Entry(
        seq=logged.seq,
        at=clock(logged.at_s),
        late=f"entered {duration(late_s)} later" if late_s >= LATE_S else "",
        utc=instant(logged.logged_at)[:19].replace("T", " ") + " UTC",
        text=sentence(logged.event, situation.procedure),
        kind=kind_of(logged.event),
        by=logged.by,
        station=logged.station,
        reopen=_reopenable(situation, logged),
        key=new_key(),
    )


def _reopenable(situation: Situation, logged: Logged) -> StepId | None:
    """The step that this event closed, while it is the event that holds it closed and the run goes on."""
    state = situation.state
    if state.ended_s is not None:
        return None
    match logged.event:
        case StepMarked(step) if step in state.done and state.done[step].seq == logged.seq:
            return step
        case StepNotNeeded(step) if step in state.not_needed:
            return step
        case _:
            return None


def _carried(situation: Situation) -> tuple[Carried, ...]:
    state = situation.state
    rows = []
    for task in carried_over(situation.procedure, state):
        why = "put off: " + state.put_off[task.id] if task.id in state.put_off else "not finished"
        if task.id not in state.put_off and not state.begun(task.id):
            why = "not begun"
        rows.append(Carried(task.title, task.id, tuple(step.do for step in task.steps), why))
    return tuple(rows)
