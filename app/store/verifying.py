"""Walk a run's chain and say the first thing that does not fit. It mends nothing.

What it cannot see by itself: a tail cut off together with its receipts. That shows only against a chain value kept
elsewhere, which is why every export prints one. The `answer` of a receipt is not in the chain.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, RowMapping, select

from app.core.events import UnknownEvent, canonical, event_from
from app.store import library
from app.store.journal import next_chain, start
from app.store.tables import EVENT, RECEIPT, REVISION


@dataclass(frozen=True, slots=True)
class Verified:
    """What the walk found.

    Attributes:
        events: how many were found sound, from the first.
        head: the chain after the last sound event.
        fault: a sentence on the first thing that does not fit; None if all does.
        kept_at: the seq at which the chain value kept elsewhere was met; None if none was given or met.
    """

    ok: bool
    events: int
    head: str
    fault: str | None
    kept_at: int | None = None


@dataclass(slots=True)
class _Walk:
    chain: str
    kept: str | None
    events: int = 0
    kept_at: int | None = None
    spans: dict[str, tuple[int, int]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._look()

    def step(self, row: RowMapping) -> str | None:
        """Take one event in, or say what is wrong with it."""
        body, fault = _body(row)
        fault = _out_of_place(row, self.events) or fault
        if fault:
            return fault
        values = {str(name): value for name, value in row.items()}
        if next_chain(self.chain, values, body) != row["chain"]:
            return f"event {row['seq']} was changed, or an event before it was: the chain does not fit"
        self.chain, self.events = row["chain"], row["seq"]
        first, _ = self.spans.get(row["key"], (row["seq"], 0))
        self.spans[row["key"]] = (first, row["seq"])
        self._look()
        return None

    def _look(self) -> None:
        if self.chain == self.kept:
            self.kept_at = self.events

    def result(self, fault: str | None) -> Verified:
        return Verified(fault is None, self.events, self.chain, fault, self.kept_at)


def verify(conn: Connection, run: int, head: str | None = None) -> Verified:
    """Check a run's revision text, its chain from the first event to the last, and the receipts.

    Args:
        head: a chain value kept elsewhere, 64 hex signs. The log may have gone on past it since.

    Raises:
        NoSuchRun: there is no such run.
    """
    stored = library.run(conn, run)
    walk = _Walk(start(conn, run), head.strip().lower() if head else None)
    if fault := _text_fault(conn, stored.revision):
        return walk.result(fault)
    for row in conn.execute(select(EVENT).where(EVENT.c.run == run).order_by(EVENT.c.seq)).mappings():
        if fault := walk.step(row):
            return walk.result(fault)
    fault = _receipt_fault(conn, run, walk.spans)
    if fault is None and walk.kept is not None and walk.kept_at is None:
        fault = f"the chain value {walk.kept[:12]}… is not in this log: its end was cut off, or it is of another run"
    return walk.result(fault)


def _out_of_place(row: RowMapping, before: int) -> str | None:
    if row["seq"] == before + 1:
        return None
    return f"event {before + 1} is missing: after {before} comes {row['seq']}"


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
    except (ValueError, AttributeError):
        return None, f"event {seq} was changed: its body cannot be read"
    return body, None


def _text_fault(conn: Connection, revision: str) -> str | None:
    said = conn.execute(select(REVISION.c.text).where(REVISION.c.hash == revision)).scalar()
    if said is None:
        return f"the revision {revision[:12]}… of this run is missing"
    return None if library.hash_of(said) == revision else f"the text of revision {revision[:12]}… was changed"


def _receipt_fault(conn: Connection, run: int, spans: Mapping[str, tuple[int, int]]) -> str | None:
    """Each key's receipt must name exactly the events that carry the key, and each such key must have one."""
    wanted = select(RECEIPT.c.key, RECEIPT.c.first_seq, RECEIPT.c.last_seq).where(RECEIPT.c.run == run)
    kept = {key: (first, last) for key, first, last in conn.execute(wanted)}
    for key, span in spans.items():
        if kept.get(key) != span:
            return f"the receipt of key {key} is missing or was changed: its events are {span[0]} to {span[1]}"
    for key, (first, last) in kept.items():
        if first is not None and key not in spans:
            return f"events {first} to {last} are missing: the receipt of key {key} names them"
    return None
