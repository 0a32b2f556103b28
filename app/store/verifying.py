"""Walk a run's chain and say the first thing that does not fit. It mends nothing and never stops at what is damaged.

What it cannot see by itself: a tail cut off together with its receipts, or a chain that was made anew. That shows only
against a head kept elsewhere, which is why every export prints one. The `sent` and `answer` of a receipt are not in
the chain: only their form is checked, and that the answer names the events' run or seq.
"""

import json
import re
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, Executable, RowMapping, select
from sqlalchemy.exc import DBAPIError

from app.core.events import UnknownEvent, canonical, event_from
from app.core.heads import Head, head_words, read_head
from app.store import library
from app.store.engine import failure_of, is_held
from app.store.faults import NoSuchRun, printable
from app.store.journal import made_as, next_chain, start
from app.store.postgres_failures import postgres_failure_of
from app.store.tables import EVENT, RECEIPT, REVISION, RUN

_HASH = re.compile("[0-9a-f]{64}")

_AT_ONCE = 1000
"""Rows of a log held in memory while it is walked. Our own choice."""

UNREADABLE = (
    DBAPIError,
    sqlite3.Error,
    ValueError,
    TypeError,
    AttributeError,
    LookupError,
    OverflowError,
    RecursionError,
    MemoryError,
)
"""What reading a damaged row may raise: a column may then hold anything, of any type and depth."""


@dataclass(frozen=True, slots=True)
class Verified:
    """What the walk found.

    Attributes:
        events: how many were found sound, from the first.
        head: the chain after the last sound event, 64 hex signs; empty where the run's own row can't be read.
        fault: a sentence without its full stop on the first thing that does not fit; None if all does.
        kept_at: the seq at which the head kept elsewhere was met; None if none was given or met.
    """

    ok: bool
    events: int
    head: str
    fault: str | None
    kept_at: int | None = None

    @property
    def head_words(self) -> str:
        """``SEQ:HASH`` of the last sound event."""
        return head_words(self.events, self.head)


@dataclass(slots=True)
class _Walk:
    kept: Head | None
    made_as: int = 0
    chain: str = ""
    events: int = 0
    kept_at: int | None = None
    spans: dict[str, tuple[int, int]] = field(default_factory=dict)

    def begin(self, chain: str, number: int) -> None:
        """`number`: that of the run where it was made."""
        self.chain, self.made_as = chain, number
        self._look()

    def step(self, row: RowMapping) -> str | None:
        """Take one event in, or say what is wrong with it."""
        seq = row["seq"]
        if seq != self.events + 1:
            return f"event {self.events + 1} is missing: after {self.events} comes {seq}"
        body, fault = _body(row)
        if fault:
            return fault
        values = {str(name): value for name, value in row.items()} | {"run": self.made_as}
        if next_chain(self.chain, values, body) != row["chain"]:
            return f"event {seq} was changed, or an event before it was: the chain does not fit"
        self.chain, self.events = row["chain"], seq
        first, _ = self.spans.get(row["key"], (seq, 0))
        self.spans[row["key"]] = (first, seq)
        self._look()
        return None

    def _look(self) -> None:
        if self.kept_at is None and self.kept is not None and self.kept.is_at(self.events, self.chain):
            self.kept_at = self.events

    def unmet(self) -> str | None:
        """What it means that a head kept elsewhere was not met; None if it was, or none was given."""
        if self.kept is None or self.kept_at is not None:
            return None
        if self.kept.seq is None:
            return f"the chain head {self.kept} is not in this log: its end was cut off, or it is of another run"
        if self.kept.seq > self.events:
            return f"its end was cut off: it ends at event {self.events}, and the head {self.kept} was kept of it"
        return (
            f"event {self.kept.seq} or one before it is not what it was when the head {self.kept} was kept, "
            "though the chain fits: it was made anew, or the head is of another run"
        )

    def result(self, fault: str | None) -> Verified:
        shown = None if fault is None else printable(fault)
        return Verified(fault is None, self.events, self.chain, shown, self.kept_at)


def verify(conn: Connection, run: int, head: str | None = None) -> Verified:
    """Check a run's revision text, its chain from the first event to the last, and the receipts.

    Args:
        head: a head kept elsewhere, as `core.heads.read_head` takes it. The log may have gone on past it since.

    Raises:
        NoSuchRun: there is no such run.
        HeadFault: `head` is none.
        StoreFailed: somebody holds the database; nothing can be said.
    """
    walk = _Walk(None if head is None else read_head(head))
    if abs(run) >= 2**63:  # SQLite's integers end there.
        raise NoSuchRun(f"there is no run {run}")
    try:
        fault = _first_fault(conn, run, walk)
    except NoSuchRun:
        raise
    except UNREADABLE as error:
        raise_if_held(error)
        about = f"event {walk.events + 1}" if walk.chain else "the run's own row"
        fault = f"{about}, or what belongs to it, can't be read ({inner_words(error)})"
    return walk.result(fault or walk.unmet())


def _first_fault(conn: Connection, run: int, walk: _Walk) -> str | None:
    walk.begin(start(conn, run), made_as(conn, run))
    revision = conn.execute(select(RUN.c.revision).where(RUN.c.run == run)).scalar_one()
    if fault := text_fault(conn, revision):
        return fault
    with conn.execute(_log_of(run)) as rows:  # Closed also where the walk ends early.
        for row in rows.mappings():
            if fault := walk.step(row):
                return fault
    if not walk.events:
        return "its events are missing: a run is stored together with its beginning"
    return _receipt_fault(conn, run, walk.spans)


def _log_of(run: int) -> Executable:
    """A log of any length is walked without having it in memory, from a database on another machine too."""
    return select(EVENT).where(EVENT.c.run == run).order_by(EVENT.c.seq).execution_options(yield_per=_AT_ONCE)


def _body(row: RowMapping) -> tuple[Any, str | None]:
    """The body as JSON values, or what is wrong with it."""
    seq = row["seq"]
    try:
        body = json.loads(row["body"])
        if canonical(body) != row["body"]:
            return None, f"event {seq} was changed: its body is not in the form in which it is stored"
        event_from(row["kind"], row["version"], body)
    except UnknownEvent as error:
        return None, f"event {seq}: {error}"
    except UNREADABLE:
        return None, f"event {seq} was changed: its body cannot be read"
    return body, None


def text_fault(conn: Connection, revision: str) -> str | None:
    """What is wrong with the text of a revision; None if it has the hash that names it."""
    said = conn.execute(select(REVISION.c.text).where(REVISION.c.hash == revision)).scalar()
    if said is None:
        return f"the revision {str(revision)[:12]}… of this run is missing"
    return None if library.hash_of(said) == revision else f"the text of revision {str(revision)[:12]}… was changed"


def _receipt_fault(conn: Connection, run: int, spans: Mapping[str, tuple[int, int]]) -> str | None:
    """Each key's receipt must name exactly the events that carry the key, and each such key must have one."""
    kept = {}
    for row in conn.execute(select(RECEIPT).where(RECEIPT.c.run == run)).mappings():
        kept[row["key"]] = (row["first_seq"], row["last_seq"])
        if what := _wrong_in(row):
            return f"the receipt of key {row['key']} was changed: {what}"
    for key, span in spans.items():
        if kept.get(key) != span:
            return f"the receipt of key {key} is missing or was changed: its events are {span[0]} to {span[1]}"
    for key, (first, last) in kept.items():
        if key not in spans and (first, last) != (None, None):
            return f"events {first} to {last} are missing: the receipt of key {key} names them"
    return None


def _wrong_in(receipt: RowMapping) -> str | None:
    """What is wrong with the form of a receipt, in words."""
    if not _HASH.fullmatch(receipt["sent"]):
        return "what was sent is no hash"
    try:
        answer = json.loads(receipt["answer"])
        if canonical(answer) != receipt["answer"]:
            return "its answer is not in the form in which it is stored"
    except UNREADABLE:
        return "its answer can't be read"
    if not isinstance(answer, dict):
        return None
    ends = answer.get("seq", receipt["last_seq"])
    if answer.get("run", receipt["run"]) != receipt["run"] or (receipt["last_seq"] or ends) != ends:
        return "its answer is of other events"
    return None


def inner_words(error: BaseException) -> str:
    """What the database, or the reader of a value, said."""
    return str(error.orig if isinstance(error, DBAPIError) else error) or type(error).__name__


def raise_if_held(error: BaseException) -> None:
    """Raises StoreFailed: somebody else's lock stood in the way, or the database is away. Then nothing can be said."""
    failed = failure_of(error) if is_held(error) else postgres_failure_of(error)
    if failed is not None:
        raise failed from error
