"""Locks by which the servers of one PostgreSQL database do not step on each other. It knows no table.

A lock is held until the transaction ends. A writer's transaction has jobs of several runs; if two servers each held one
run and waited for the other's, neither would get on. So only the first job of a transaction waits for a lock; a later
one that would have to wait is put off until its transaction is committed (`dialect.HeldElsewhere`).
"""

from dataclasses import dataclass, field
from time import monotonic

from sqlalchemy import Connection, text
from sqlalchemy.exc import DBAPIError

from app.store.dialect import HeldElsewhere, HeldTooLong

CLASS = 0x4C454144
"""The first of the two numbers of each of our advisory locks: "LEAD" in ASCII."""
TURNS = CLASS + 1
"""The same for turns, which a session holds and not a transaction."""

NEW_RUN = 0
"""Held by whoever gives a run its number. Runs are numbered from 1."""
TABLES = -1
"""Held by whoever changes the tables."""
LARGEST = 2**31 - 1
"""The second number of an advisory lock has 32 bits; no database has as many runs."""

IN_VAIN_S = 10.0
"""For so long nobody waits again for a run that was waited for in vain: the other runs' orders would wait with them."""
LOCK_NOT_AVAILABLE = "55P03"
"""PostgreSQL's code where `lock_timeout` is over (appendix A of its manual)."""

_HELD, _IN_VAIN = "leadline holds", "leadline waited in vain"


@dataclass(slots=True)
class _Held:
    """What the job that goes on has surely, and whether it may wait for more."""

    may_wait: bool
    numbers: set[int] = field(default_factory=set)


def begin_job(conn: Connection, first: bool) -> None:
    """A job of the writer begins, the first of its transaction or not. What an earlier one holds is asked for anew."""
    conn.info[_HELD] = _Held(may_wait=first)


def hold(conn: Connection, run: int) -> None:
    """Until the transaction ends, no other server appends to this run: what is read from here on is its head. Of
    NEW_RUN: no other server opens a run.

    With SQLite the writer's transaction holds the whole file, so there is nothing to do.

    Raises:
        HeldElsewhere: another server has it, and this transaction may not wait.
        HeldTooLong: another server has had it for too long; nothing of this job is to be done.
    """
    if conn.dialect.name != "postgresql":
        return
    held = conn.info.get(_HELD) or _Held(may_wait=True)
    if run in held.numbers or not 0 <= run <= LARGEST:
        return
    in_vain = conn.info.get(_IN_VAIN, {}).get(run, 0.0) > monotonic()
    if held.may_wait and not in_vain:
        _wait_for(conn, run)
    elif not conn.execute(_TRY, {"class": CLASS, "run": run}).scalar_one():
        raise HeldTooLong(TOO_LONG) if in_vain else HeldElsewhere
    held.numbers.add(run)


def _wait_for(conn: Connection, run: int) -> None:
    try:
        conn.execute(_HOLD, {"class": CLASS, "run": run})
    except DBAPIError as error:
        if getattr(error.orig, "sqlstate", None) != LOCK_NOT_AVAILABLE:
            raise
        conn.info.setdefault(_IN_VAIN, {})[run] = monotonic() + IN_VAIN_S
        raise HeldTooLong(TOO_LONG) from error


def hold_tables(conn: Connection) -> None:
    """Until the transaction ends nobody else changes the tables, and no server starts: it waits."""
    conn.execute(_HOLD, {"class": CLASS, "run": TABLES})


TOO_LONG = (
    "Another server of this database holds what was to be written, and does not let go of it. "
    "Nothing was stored: send it again."
)

_HOLD = text("SELECT pg_advisory_xact_lock(:class, :run)")
_TRY = text("SELECT pg_try_advisory_xact_lock(:class, :run)")
