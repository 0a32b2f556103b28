"""Locks by which the servers of one PostgreSQL database do not step on each other. It knows no table.

A lock is held until the transaction ends. A writer's transaction has jobs of several runs; if two servers each held one
run and waited for the other's, neither would get on. So only the first job of a transaction waits for a lock; a later
one that would have to wait is put off until its transaction is committed (`dialect.HeldElsewhere`).
"""

from dataclasses import dataclass, field

from sqlalchemy import Connection, text

from app.store.dialect import HeldElsewhere

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

_HELD = "leadline holds"


@dataclass(slots=True)
class _Held:
    """What the job that goes on has surely, and whether it may wait for more."""

    may_wait: bool
    numbers: set[int] = field(default_factory=set)


def begin_job(conn: Connection, first: bool) -> None:
    """A job of the writer begins, the first of its transaction or not. What an earlier one holds is asked for anew."""
    conn.info[_HELD] = _Held(may_wait=first)


def hold_run(conn: Connection, run: int) -> None:
    """Hold a run, or NEW_RUN, until the transaction ends.

    Raises:
        HeldElsewhere: another server has it, and this transaction may not wait.
    """
    held = conn.info.get(_HELD) or _Held(may_wait=True)
    if run in held.numbers or not 0 <= run <= LARGEST:
        return
    if held.may_wait:
        conn.execute(_HOLD, {"class": CLASS, "run": run})
    elif not conn.execute(_TRY, {"class": CLASS, "run": run}).scalar_one():
        raise HeldElsewhere
    held.numbers.add(run)


_HOLD = text("SELECT pg_advisory_xact_lock(:class, :run)")
_TRY = text("SELECT pg_try_advisory_xact_lock(:class, :run)")
