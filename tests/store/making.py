"""Small makers for the tests of the store: a moment, an entry, a run. They assert nothing."""

from collections.abc import Sequence
from concurrent.futures import Future
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from app.core.events import Event, Logged, StepMarked
from app.store import journal, library
from app.store.store import Store

MIGRATIONS = Path(__file__).parents[2] / "migrations"
NOON = datetime(2031, 5, 4, 12, 0, 0, 250_000, tzinfo=UTC)
SENT = library.hash_of("what was sent")


def entry(event: Event | None = None, at_s: int = 60) -> journal.Entry:
    return journal.Entry(event or StepMarked("mast/1"), at_s, at_s + 2, NOON, "Ground", "desk-1")


def a_run(store: Store, text: str = "procedure: mast") -> int:
    """A new run of a revision of this text."""
    name, _ = store.write(lambda conn: library.put(conn, text, "mast", "Mast work", "mast.yaml", NOON)).result()
    return store.write(lambda conn: library.create_run(conn, name, "live", NOON, NOON)).result()


def send(store: Store, run: int, key: str) -> Future[tuple[Logged, ...]]:
    """Queue one mark, and do not wait for it."""
    return store.write(lambda conn: journal.append(conn, run, [entry()], key, SENT, None))


def append(
    store: Store, run: int, key: str, events: Sequence[Event] = (StepMarked("mast/1"),), answer: Any = "stored"
) -> tuple[Logged, ...]:
    """Append one command's events and wait until they are on disk."""
    entries = [entry(event) for event in events]
    return store.write(lambda conn: journal.append(conn, run, entries, key, SENT, answer)).result()
