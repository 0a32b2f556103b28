"""What happened in a rehearsal beside the run, as sentences for the log. Like `words`, it computes nothing."""

from typing import assert_never

from app.core.commands import joined
from app.core.events_rehearsal import ClockRuled, InjectDone, InjectDropped, InjectSet, PlayersSet, RehearsalEvent
from app.core.procedure import Procedure
from app.core.times import clock, duration
from app.core.words_live import StepWords


def rehearsal_sentence(event: RehearsalEvent, procedure: Procedure, named: StepWords) -> str:
    """One line of the log."""
    match event:
        case ClockRuled(rate, to_s):
            return f"The clock {rate_words(rate)} from {clock(to_s)} on"
        case PlayersSet((), _):
            return "Nobody is simulated from here on"
        case PlayersSet(who, seed):
            return f"Simulated people play {joined(who)} (seed {seed})"
        case InjectSet():
            what = inject_words(event, procedure, named)
            drawn = "" if event.seed is None else f" (drawn from seed {event.seed})"
            return f"Trouble set ({event.inject}): {what}, from {clock(event.from_s)} on{drawn}"
        case InjectDropped(inject):
            return f"Trouble dropped: {inject}"
        case InjectDone(inject):
            return f"Trouble took effect: {inject}"
        case _:
            assert_never(event)


def rate_words(rate: float) -> str:
    """``stands``, ``runs``, or ``runs 10 times as fast``."""
    return "stands" if rate == 0 else "runs" if rate == 1 else f"runs {rate:g} times as fast"


def inject_words(event: InjectSet, procedure: Procedure, named: StepWords) -> str:
    """What it is, without its time: ``delay of 6m 00s at “Loosen screws” (free-old/1): screw 3 is seized``."""
    said = f": {event.text}" if event.text else ""
    return f"{_what(event, procedure, named)}{said}"


def _what(event: InjectSet, procedure: Procedure, named: StepWords) -> str:
    step = "" if event.step is None else named(procedure, event.step)
    match event.what:
        case "delay":
            return f"delay of {duration(event.by_s)} at {step}"
        case "failed step":
            return f"{step} fails"
        case "wrong reading":
            value = "out of tolerance" if event.value is None else f"{event.value:g}"
            return f"wrong reading of {f'{event.name} at {step}' if step else _gauge(event)}, {value}"
        case "lost tool":
            return f"{event.tool} lost{f' by {event.person}' if event.person else ''}"
        case _:
            where = f" at {step}" if step else ""
            lifted = f", lifted after {duration(event.by_s)}" if event.by_s else ""
            return f"{event.person} is no-go{where}{lifted}"


def _gauge(event: InjectSet) -> str:
    return f"{event.supply}{f' of {event.person}' if event.person else ''}"
