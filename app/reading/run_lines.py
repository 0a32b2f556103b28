"""A run as JSON Lines, read and held to its chain: the form in which runs go from one Leadline to another.

The first line is the header, each other one an event in order of `seq`, with the columns that its chain is over. What
does not fit is refused with its line; nothing is mended. It opens no file and stores nothing.
"""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import isfinite
from typing import Any

from app.core.as_run import as_run
from app.core.events import Event, Logged, RunEnded, RunStarted, StepAdded, UnknownEvent, event_from
from app.core.events_progress import ActionsDone
from app.core.fold import added_task, fold
from app.core.heads import head_words
from app.core.log_chain import first_chain, next_chain
from app.core.procedure import Procedure
from app.core.quoting import quoted
from app.core.report import situation_report
from app.core.situation import Prepared, Situation
from app.core.times import TimeFault, duration, instant, read_instant
from app.core.words import sentence
from app.reading.event_values import misfit
from app.reading.procedure_reader import read_procedure

FORM = 1
"""The version of the form. A changed meaning needs a new one."""
HEADER = ("leadline", "run", "procedure", "source", "text", "events", "head")
RUN = {"run": int, "revision": str, "kind": str, "zero_utc": str, "started_at": str}
_WHAT = {"seq": int, "kind": str, "version": int, "body": dict, "at_s": int, "logged_s": int}
EVENT = _WHAT | {"logged_at": str, "by": str, "station": str, "key": str, "chain": str}
KINDS = ("live", "rehearsal")

MOST_BYTES = 16 * 1024 * 1024 - 1
"""Some 30,000 events. What opens a file reads no more."""
LONGEST_HEADER = 2 * 1024 * 1024
"""A procedure has 512 KB at most; as JSON each of its line ends and quotation marks takes two bytes."""
LONGEST_LINE = 256 * 1024
LONGEST_NAME = 200
MOST_S = 10**9
"""Elapsed seconds, 30 years. These are our own bounds, no source."""

MOST_ADDED = 300
"""Steps added during a run, each by hand. What they lead to takes longer than in proportion. Our own bound."""

_DAMAGE = (ValueError, TypeError, AttributeError, LookupError, OverflowError, RecursionError, MemoryError)
"""What working out a run may raise where its log speaks of what its procedure does not have."""

Columns = Mapping[str, Any]


class RunFault(ValueError):
    """The file can't be taken. ``str()`` is a sentence with the line; `line` is 0 where it is about the whole file."""

    def __init__(self, line: int, what: str) -> None:
        super().__init__(f"Line {line:,}: {what}." if line else f"{what[:1].upper()}{what[1:]}.")
        self.line = line


@dataclass(frozen=True, slots=True)
class RunLines:
    """A run that was read, and whose chain is whole.

    Attributes:
        row: the run's own row as it was stored where it was made.
        procedure, text, source: its revision, read; its text, which has the hash of `row`; what its file was called.
        events: the columns of each event, the body as a JSON value. log: the same as values.
        head: ``SEQ:HASH`` of the last event.
    """

    row: Columns
    procedure: Procedure
    text: str
    source: str
    events: Sequence[Columns]
    log: tuple[Logged, ...]
    head: str


def read_run_lines(data: bytes) -> RunLines:
    """Read a run and check every link of its chain.

    Raises:
        RunFault: what is wrong with it first.
    """
    lines = _lines(data)
    header = _header(lines[0])
    row, text = header["run"], header["text"]
    procedure = _procedure(row, text)
    events = [_event(number, line) for number, line in enumerate(lines[1:], 2)]
    _be_chained(row, events)
    if len(events) != header["events"]:
        raise RunFault(1, f"it says that there are {header['events']} events, and {len(events)} are here")
    head = head_words(len(events), events[-1]["chain"] if events else first_chain(row))
    if head != header["head"]:
        raise RunFault(1, f"the head {quoted(header['head'])} is not that of the events, which is {head}")
    log = tuple(_logged(number, event) for number, event in enumerate(events, 2))
    _be_a_run(row, log)
    _be_told(procedure, log)
    return RunLines(row, procedure, text, " ".join(header["source"].split()), events, log, head)


def _lines(data: bytes) -> list[bytes]:
    if len(data) > MOST_BYTES:
        raise RunFault(0, f"the file is larger than {MOST_BYTES // 2**20 + 1} MB, the most that is read")
    lines = data.removeprefix(b"\xef\xbb\xbf").split(b"\n")
    if lines[-1] == b"":
        lines.pop()
    if not lines:
        raise RunFault(0, "the file is empty")
    for number, line in enumerate(lines, 1):
        if len(line) > (LONGEST_HEADER if number == 1 else LONGEST_LINE):
            raise RunFault(number, f"it has {len(line):,} bytes, more than a line may")
    return lines


def _object(number: int, line: bytes) -> dict[str, Any]:
    """One JSON object, each name in it once, without NaN. Raises RunFault."""
    try:
        found = json.loads(line.decode(), object_pairs_hook=_once, parse_constant=_no_number, parse_float=_finite)
        # A lone surrogate can be written in JSON, and is no text.
        json.dumps(found, ensure_ascii=False).encode()
    except UnicodeError as error:
        raise RunFault(number, "it is not UTF-8 text") from error
    except RecursionError as error:
        raise RunFault(number, "it is nested too deep") from error
    except ValueError as error:
        raise RunFault(number, f"it can't be read as JSON ({quoted(str(error))})") from error
    if not isinstance(found, dict):
        raise RunFault(number, "it is no JSON object")
    return found


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        raise ValueError("a name stands twice")
    return found


def _no_number(said: str) -> None:
    raise ValueError(f"{said} is no JSON")


def _finite(said: str) -> float:
    found = float(said)
    if not isfinite(found):
        raise ValueError(f"{said[:20]} is too large a number")
    return found


def _have(number: int, found: Mapping[str, Any], kinds: Mapping[str, type]) -> None:
    """Raises RunFault: the object has other names, or values of other kinds."""
    for name in found:
        if name not in kinds:
            raise RunFault(number, f"{quoted(name)} is not known here")
    for name, kind in kinds.items():
        if name not in found:
            raise RunFault(number, f"“{name}” is missing")
        if not isinstance(found[name], kind) or isinstance(found[name], bool):
            raise RunFault(number, f"“{name}” is not what it should be")


def _header(line: bytes) -> dict[str, Any]:
    found = _object(1, line)
    if "leadline" not in found:
        raise RunFault(1, "this is no run from a Leadline: its first line begins {“leadline”: 1, “run”: …")
    if found["leadline"] != FORM or isinstance(found["leadline"], bool):
        raise RunFault(1, "the file is of a newer Leadline, in a form that this one does not know")
    _have(1, found, dict(zip(HEADER, (int, dict, str, str, str, int, str), strict=True)))
    row = found["run"]
    _have(1, row, RUN)
    if row["kind"] not in KINDS:
        raise RunFault(1, f"a run is live or a rehearsal, not {quoted(row['kind'])}")
    if not 0 < row["run"] < 2**53:
        raise RunFault(1, "“run” is no number of a run")
    _be_instants(1, row, ("zero_utc", "started_at"))
    _be_short(1, found, ("procedure", "source"))
    return found


def _be_instants(number: int, found: Mapping[str, Any], names: tuple[str, ...]) -> None:
    for name in names:
        try:
            same = instant(read_instant(found[name])) == found[name]
        except (TimeFault, OverflowError):
            same = False
        if not same:
            raise RunFault(number, f"“{name}” is not a time as Leadline writes it, 2031-05-04T07:00:00.000Z")


def _be_short(number: int, found: Mapping[str, Any], names: tuple[str, ...]) -> None:
    for name in names:
        if len(found[name]) > LONGEST_NAME or "\0" in found[name]:
            raise RunFault(number, f"“{name}” is longer than {LONGEST_NAME} characters, or holds an empty one")


def _procedure(row: Columns, text: str) -> Procedure:
    if hashlib.sha256(text.encode()).hexdigest() != row["revision"]:
        raise RunFault(1, "the text of the procedure was changed: its hash is not the revision of the run")
    reading = read_procedure(text)
    if reading.procedure is None:
        fault = next(each for each in reading.faults if not each.remark)
        raise RunFault(1, f"this Leadline does not read the procedure ({fault.where}: {fault.what})")
    return reading.procedure


def _event(number: int, line: bytes) -> dict[str, Any]:
    found = _object(number, line)
    _have(number, found, EVENT)
    if found["seq"] != number - 1:
        raise RunFault(number, f"event {number - 1} should stand here, and {quoted(str(found['seq']))} does")
    if not 0 <= found["at_s"] <= found["logged_s"] <= MOST_S:
        raise RunFault(number, f"its times are not between zero and {duration(MOST_S)}, the happening first")
    _be_instants(number, found, ("logged_at",))
    _be_short(number, found, ("by", "station", "key"))
    return found


def _be_chained(row: Columns, events: Sequence[Columns]) -> None:
    """Every link, and each command's events side by side."""
    chain, ended = first_chain(row), set[str]()
    before = ""
    for number, event in enumerate(events, 2):
        values = {**event, "run": row["run"]}
        if next_chain(chain, values, event["body"]) != event["chain"]:
            raise RunFault(number, "it was changed, or what stands before it was: the chain does not fit")
        if event["key"] != before and event["key"] in ended:
            raise RunFault(number, "its key is that of an earlier command")
        chain, before = event["chain"], event["key"]
        ended.add(before)


def _logged(number: int, found: Columns) -> Logged:
    try:
        event = event_from(found["kind"], found["version"], found["body"])
    except UnknownEvent as error:
        raise RunFault(number, f"this Leadline does not know the event {quoted(found['kind'])}") from error
    if wrong := misfit(event):
        raise RunFault(number, f"“{wrong}” of {found['kind']} is not what it should be")
    at = read_instant(found["logged_at"])
    who = (found["by"], found["station"], found["key"])
    return Logged(found["seq"], found["at_s"], found["logged_s"], at, *who, event, found["chain"])


def _be_a_run(row: Columns, log: Sequence[Logged]) -> None:
    """The log begins as the row says, once, and ends at most once."""
    begun = RunStarted(row["revision"], row["kind"], row["zero_utc"])
    if not log or log[0].event != begun:
        raise RunFault(2, "the log does not begin with the start of this run")
    for each in log[1:]:
        if isinstance(each.event, RunStarted):
            raise RunFault(each.seq + 1, "a run begins only once")
    ends = [each.seq for each in log if isinstance(each.event, RunEnded)]
    if len(ends) > 1:
        raise RunFault(ends[1] + 1, "a run ends only once")


def _be_counted(event: Event, procedure: Procedure) -> None:
    """Of a step of so many actions no others are done: what is counted is kept one by one. Raises ValueError."""
    if isinstance(event, ActionsDone) and not 1 <= event.first <= event.last <= (procedure.step(event.step).count or 0):
        raise ValueError("there are not so many actions")


def _be_told(procedure: Procedure, log: Sequence[Logged]) -> None:
    """Work the run out as the pages would: a log may be well formed and yet speak of steps that there are not."""
    grown, added = procedure, 0
    for each in log:
        added += isinstance(each.event, StepAdded)
        if added > MOST_ADDED:
            raise RunFault(each.seq + 1, f"a run that is taken in has at most {MOST_ADDED} added steps")
        try:
            if isinstance(each.event, StepAdded):
                grown = replace(grown, tasks=(*grown.tasks, added_task(each.event)))
            sentence(each.event, grown)
            _be_counted(each.event, grown)
        except _DAMAGE as error:
            raise RunFault(each.seq + 1, "it speaks of something that the procedure does not have") from error
    try:
        situation = Situation(Prepared(procedure), fold(log), max(each.logged_s for each in log))
        as_run(situation)
        situation_report(situation)
    except _DAMAGE as error:
        raise RunFault(0, "the events do not fit the procedure: what they lead to can't be worked out") from error
