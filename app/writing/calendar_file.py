"""The plan of a procedure from a given zero as an iCalendar file (RFC 5545). It opens no file and reads no clock.

One event for each task of the nominal timeline, and not one for each of its people: a task that several do together is
one thing, and a team looks at one calendar. Who does it stands in the summary and among the categories.
"""

import hashlib
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

from app.core.commands import Refusal
from app.core.procedure import Designator, Task
from app.core.signs import shown
from app.core.situation import Prepared
from app.core.times import TimeFault, clock, duration, read_instant

LONGEST_LINE = 75
"""Octets, without the line's end (RFC 5545, 3.1)."""
ADVICE = "Planned times. The run itself is followed in Leadline; the person in charge decides."


def read_zero(text: str) -> datetime:
    """The zero of a plan as it was said: RFC 3339, or without a zone in UTC, to the whole second.

    Raises:
        Refusal: none was said, or it is no date and time.
    """
    # In an address a plus sign that was not escaped stands for a blank.
    said = text.strip().replace(" ", "+")
    if not said:
        raise Refusal("bad-time", "Say when the plan's zero is, in UTC: for example zero=2031-05-04T07:00:00Z.")
    try:
        return read_instant(said).replace(microsecond=0)
    except TimeFault as fault:
        raise Refusal("bad-time", f"The zero: {fault}; {fault.remedy}.") from fault


def calendar(prepared: Prepared, revision: str, zero: datetime, written: datetime) -> bytes:
    """The file, UTF-8, lines ended with CR LF and folded at 75 octets.

    The events' UIDs are of revision, task and zero, so the same plan read twice gives no second event.

    Args:
        zero: UTC. written: when it was written, for DTSTAMP.

    Raises:
        Refusal: the plan runs beyond the last year that a date can have, or plans nothing.
    """
    try:
        lines = list(_lines(prepared, revision, zero, written))
    except OverflowError as error:
        raise Refusal("bad-time", "The plan runs beyond the year 9999. Take an earlier zero.") from error
    if "BEGIN:VEVENT" not in lines:  # RFC 5545, 3.6: a calendar has a component.
        raise Refusal("nothing-planned", "No task of this procedure has a time in the plan, so there is no calendar.")
    return "".join(f"{_folded(line)}\r\n" for line in lines).encode()


def _lines(prepared: Prepared, revision: str, zero: datetime, written: datetime) -> Iterator[str]:
    yield "BEGIN:VCALENDAR"
    yield "VERSION:2.0"
    yield "PRODID:-//Leadline//Plan//EN"
    yield "CALSCALE:GREGORIAN"
    for task in prepared.procedure.tasks:
        if span := _span(prepared, task):
            yield from _event(prepared, task, revision, zero, written, span)
    yield "END:VCALENDAR"


def _span(prepared: Prepared, task: Task) -> tuple[int, int] | None:
    """When the task begins and ends in the plan, elapsed seconds; None for a get-ahead item, which has no time."""
    numbers = [prepared.network.index[step.id] for step in task.steps]
    nominal = [number for number in numbers if prepared.network.nominal[number]]
    if not nominal:
        return None
    times = [prepared.plan.times(number) for number in nominal]
    return min(start_s for start_s, _ in times), max(finish_s for _, finish_s in times)


def _event(
    prepared: Prepared, task: Task, revision: str, zero: datetime, written: datetime, span: tuple[int, int]
) -> Iterator[str]:
    start, finish = (zero + timedelta(seconds=each) for each in span)
    who = _people(task)
    names = ", ".join(who)
    yield "BEGIN:VEVENT"
    yield f"UID:{_uid(revision, task.id, zero)}"
    yield f"DTSTAMP:{_utc(written)}"
    yield f"DTSTART:{_utc(start)}"
    if finish > start:  # An end must come after the start (RFC 5545, 3.8.2.2); without one it is a moment.
        yield f"DTEND:{_utc(finish)}"
    yield f"SUMMARY:{_text(task.title + (f' ({names})' if who else ''))}"
    yield f"DESCRIPTION:{_text(_about(prepared, task, revision, span))}"
    if task.where:
        yield f"LOCATION:{_text(task.where)}"
    if who:
        yield f"CATEGORIES:{','.join(map(_text, who))}"
    yield f"TRANSP:{'OPAQUE' if who else 'TRANSPARENT'}"
    yield "END:VEVENT"


def _people(task: Task) -> tuple[Designator, ...]:
    """Each person of its steps once, in the order in which they come."""
    return tuple(dict.fromkeys(person for step in task.steps for person in step.who))


def _about(prepared: Prepared, task: Task, revision: str, span: tuple[int, int]) -> str:
    steps = [f"{step.number}. {step.do} ({duration(step.takes.likely_s)})" for step in task.steps]
    when = f"Elapsed {clock(span[0])} to {clock(span[1])}."
    return "\n".join([when, *steps, f"{prepared.procedure.title}, revision {revision[:12]}.", ADVICE])


def _uid(revision: str, task: str, zero: datetime) -> str:
    """A hash, so that no text of the procedure stands in it: a UID is to be unique in the world (RFC 5545, 3.8.4.7)."""
    return f"{hashlib.sha256(f'{revision} {task} {_utc(zero)}'.encode()).hexdigest()[:40]}@leadline"


def _utc(at: datetime) -> str:
    """``20310504T070000Z`` (RFC 5545, 3.3.5, form 2)."""
    return at.astimezone(UTC).isoformat(timespec="seconds")[:19].replace("-", "").replace(":", "") + "Z"


def _text(said: str) -> str:
    """RFC 5545, 3.3.11: backslash, semicolon and comma escaped, a line's end as ``\\n``, no control signs."""
    plain = shown(said).replace("\r\n", "\n").replace("\r", "\n")
    for sign in "\\;,":
        plain = plain.replace(sign, f"\\{sign}")
    return plain.replace("\n", "\\n")


def _folded(line: str) -> str:
    """The line in pieces of at most 75 octets, each further one after a blank; no character is cut in two."""
    pieces, piece, size = [], "", 0
    for sign in line:
        width = len(sign.encode())
        if size + width > LONGEST_LINE:
            pieces.append(piece)
            piece, size = " ", 1
        piece, size = piece + sign, size + width
    return "\r\n".join([*pieces, piece])
