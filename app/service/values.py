"""What the service takes and gives: senders, outcomes, reports, and events as JSON. It does nothing itself."""

import hashlib
from dataclasses import asdict, dataclass
from typing import Any

from app.core.commands import Command
from app.core.events import Event, Logged, body_of, canonical, kind_of
from app.core.situation import Prepared
from app.core.state import State
from app.core.times import instant
from app.reading.faults import PlacedFault

KINDS = ("live", "rehearsal")


@dataclass(frozen=True, slots=True)
class Sender:
    """Who gives an order, from which station, under which key: a UUID made once per press."""

    by: str
    station: str
    key: str


@dataclass(frozen=True, slots=True)
class RunAsked:
    """What was sent to start a run; `revision` as it was named, `running_s` since its zero."""

    revision: str
    kind: str
    running_s: float


@dataclass(frozen=True, slots=True)
class Outcome:
    """What an order did. `repeated`: the key was answered before, and this is that answer."""

    seq: int
    events: tuple[dict[str, Any], ...]
    repeated: bool


class Refused(Exception):
    """A procedure text with faults; nothing was loaded."""

    def __init__(self, faults: tuple[PlacedFault, ...]) -> None:
        super().__init__(f"{len([fault for fault in faults if not fault.remark])} faults")
        self.faults = faults


@dataclass(frozen=True, slots=True)
class Loaded:
    """A revision that is in the library. `remarks` are worth knowing and refuse nothing."""

    hash: str
    is_new: bool
    prepared: Prepared
    remarks: tuple[PlacedFault, ...]


@dataclass(frozen=True, slots=True)
class FileReport:
    """What became of one file of the procedures folder."""

    name: str
    hash: str | None
    faults: tuple[PlacedFault, ...]


def identity(state: State) -> str:
    """What tells a run from another that had its number on other data: its revision's first signs, and its zero."""
    return f"{state.revision[:12]} {state.zero_utc}"


def event_json(event: Event, at_s: int) -> dict[str, Any]:
    """``{"kind", "at_s", "body"}``."""
    return {"kind": kind_of(event), "at_s": at_s, "body": body_of(event)}


def logged_json(logged: Logged) -> dict[str, Any]:
    """An event of the log as the API shows it."""
    return {
        "seq": logged.seq,
        **event_json(logged.event, logged.at_s),
        "logged_s": logged.logged_s,
        "logged_at": instant(logged.logged_at),
        "by": logged.by,
        "station": logged.station,
        "key": logged.key,
        "chain": logged.chain,
    }


def sent_hash(value: Command | Event | RunAsked, at: int | str | None = None) -> str:
    """What was sent, as hex SHA-256: the same press twice has the same. `at` is the time as it was said."""
    said = {"kind": type(value).__name__, "body": asdict(value), "at": at}
    return hashlib.sha256(canonical(said).encode("utf-8", "surrogatepass")).hexdigest()
