"""The one thread that writes: it takes the jobs that wait, runs them in one transaction, and answers after COMMIT.

A job is a function of the connection. It must not commit, roll back or keep the connection. It may be run more than
once, the earlier times without effect: where another server of the same database stood in its way.
"""

import logging
from collections.abc import Callable, Sequence
from concurrent.futures import Future, InvalidStateError
from contextlib import suppress
from dataclasses import dataclass
from queue import Empty, SimpleQueue
from threading import Lock, Thread
from typing import Any, TypeVar

from sqlalchemy import Connection, Engine

from app.store.dialect import Contended, Dialect, HeldElsewhere, HeldTooLong, SqliteDialect
from app.store.faults import StoreClosed, StoreFailed

logger = logging.getLogger(__name__)

T = TypeVar("T")

MOST_TOGETHER = 256
"""Jobs in one commit at most: it bounds how long the first of them waits for the last."""

LET_GO = "Leadline is stopping, and the database does not answer. It may or may not be stored: send it again."

TRIES = 3
"""How often a job is tried that other servers' transactions stand in the way of. Our own bound."""


@dataclass(frozen=True, slots=True)
class _Job:
    work: Callable[[Connection], Any]
    future: Future[Any]


@dataclass(frozen=True, slots=True)
class _Outcome:
    value: Any = None
    error: BaseException | None = None


class Writer:
    """Group commit on the writer engine's only connection."""

    def __init__(
        self, engine: Engine, dialect: Dialect | None = None, in_doubt: Callable[[], None] | None = None
    ) -> None:
        """`in_doubt` is called, in the writer's thread, after a COMMIT that was not answered: it may have been done."""
        self._engine = engine
        self._dialect = dialect or SqliteDialect()
        self._in_doubt = in_doubt
        self._going: Sequence[_Job] = ()
        self._jobs: SimpleQueue[_Job | None] = SimpleQueue()
        self._closed = False
        self._before: Callable[[], None] | None = None
        self._gate = Lock()
        self._held: Connection | None = None
        # A daemon, so that a program that forgets to close can still end: what was answered is on disk.
        self._thread = Thread(target=self._run, name="leadline-writer", daemon=True)
        self._thread.start()

    def submit(self, work: Callable[[Connection], T]) -> Future[T]:
        """Queue a job. Its future is resolved only after COMMIT, with what the job returned or raised.

        A job that raises is rolled back alone. If the transaction itself fails, every job in it gets `StoreFull` or
        `StoreFailed`, and the next ones are tried afresh. A future cancelled before its job began stores nothing.

        Raises:
            StoreClosed: `close` was called.
        """
        future: Future[T] = Future()
        with self._gate:
            if self._closed:
                raise StoreClosed("Leadline is stopping; nothing more is stored.")
            self._jobs.put(_Job(work, future))
        return future

    def close(self, before: Callable[[], None] | None = None, within_s: float | None = None) -> None:
        """Finish what was queued, empty the write-ahead log into the file, and end the thread.

        Args:
            before: called between the two; it closes the readers, so that they do not hold the log.
            within_s: after so long, let go of what is not finished. Nobody was told that it is stored.
        """
        with self._gate:
            if not self._closed:
                self._closed = True
                self._before = before
                self._jobs.put(None)
        self._thread.join(within_s)
        if self._thread.is_alive():
            self._abandon()

    def _abandon(self) -> None:
        """Leave the thread to the end of the program, and have nobody wait for it."""
        logger.warning("the database does not answer: what waits to be stored is let go of, and may or may not be")
        left = list(self._going)
        with suppress(Empty):
            while True:
                if (job := self._jobs.get_nowait()) is not None:
                    left.append(job)
        self._jobs.put(None)
        for job in left:
            _resolve(job.future, _Outcome(error=StoreFailed(LET_GO)))

    def _run(self) -> None:
        going = True
        while going:
            batch, going = self._take()
            if batch:
                self._going = batch
                self._answer(batch)
        if self._before is not None:
            self._before()
        self._let_go(tidy=True)

    def _take(self) -> tuple[list[_Job], bool]:
        """The jobs that wait now that were not cancelled, at least one; and whether more may come."""
        batch: list[_Job] = []
        job = self._jobs.get()
        while job is not None:
            if job.future.set_running_or_notify_cancel():
                batch.append(job)
            try:
                if len(batch) >= MOST_TOGETHER:
                    return batch, True
                job = self._jobs.get_nowait()
            except Empty:
                return batch, True
        return batch, False

    def _answer(self, batch: Sequence[_Job]) -> None:
        """In one transaction; in several where other servers of the database stand in the way of one."""
        while batch:
            outcomes = self._outcomes(batch)
            for job, outcome in zip(batch, outcomes, strict=False):
                _resolve(job.future, outcome)
            batch = batch[len(outcomes) :]

    def _outcomes(self, batch: Sequence[_Job]) -> list[_Outcome]:
        """Of the first jobs, one at least; the others are to be tried after them."""
        for tried in range(1, TRIES + 1):
            try:
                return self._commit(batch)
            except StoreFailed as failed:
                if isinstance(failed, Contended) and tried < TRIES:
                    batch = batch[:1]
                    continue
                # One exception each: callers in several threads must not write their tracebacks into a shared one.
                return [_Outcome(error=type(failed)(*failed.args)) for _ in batch]
        raise AssertionError("the last try returns")

    def _commit(self, batch: Sequence[_Job]) -> list[_Outcome]:
        """All jobs in one transaction, which is committed when this returns; or only the first of them, as many as
        could be done without waiting for another server.

        Raises:
            StoreFailed: it is not committed; nothing of it is left.
        """
        outcomes: list[_Outcome] = []
        committing = False
        try:
            connection = self._connection()
            with connection.begin() as whole:
                with suppress(HeldElsewhere):
                    for job in batch:
                        outcomes.append(self._alone(connection, job.work, first=not outcomes))
                committing = True
                whole.commit()
        except Exception as error:
            # Of whatever kind: the thread must live, and nobody may wait for ever.
            self._clear_up()
            if committing and self._in_doubt is not None:
                self._in_doubt()
            failed = self._dialect.failure_of(error)
            raise failed or StoreFailed(f"The database refused: {error}. Nothing was stored.") from error
        return outcomes

    def _connection(self) -> Connection:
        if self._held is not None and self._dialect.is_stale(self._held):
            self._let_go(tidy=False)
        if self._held is None:
            self._held = self._engine.connect()
        return self._held

    def _clear_up(self) -> None:
        """After a failed transaction, be sure that none is left open: it would hold the lock for ever."""
        if self._held is None:
            return
        try:
            self._dialect.clear_up(self._held)
        except Exception:  # noqa: BLE001 - whatever is wrong with it, a new connection is the remedy
            self._let_go(tidy=False)

    def _let_go(self, *, tidy: bool) -> None:
        held, self._held = self._held, None
        if held is None:
            return
        try:
            if tidy:
                self._dialect.tidy(held)
            else:
                held.invalidate()
            held.close()
        except Exception:  # noqa: BLE001 - the log file stays and is read at the next start; nothing is lost
            held.invalidate()

    def _alone(self, connection: Connection, work: Callable[[Connection], Any], *, first: bool) -> _Outcome:
        """Run one job inside a savepoint of its own.

        Raises:
            StoreFailed: the whole transaction is lost, not only this job.
            HeldElsewhere: nothing of this job is done; it is to be the first of a transaction.
        """
        connection.exec_driver_sql("SAVEPOINT job")
        self._dialect.begin_job(connection, first)
        try:
            value = work(connection)
        except BaseException as error:  # It belongs to the job's caller, who must not wait for ever.
            if failed := None if isinstance(error, HeldTooLong) else self._dialect.failure_of(error):
                raise failed from error
            self._still_open(connection)
            connection.exec_driver_sql("ROLLBACK TO SAVEPOINT job")
            connection.exec_driver_sql("RELEASE SAVEPOINT job")
            if isinstance(error, HeldElsewhere):
                raise
            return _Outcome(error=self._dialect.told(error))
        self._still_open(connection)
        connection.exec_driver_sql("RELEASE SAVEPOINT job")
        return _Outcome(value=value)

    def _still_open(self, connection: Connection) -> None:
        if not connection.in_transaction() or not self._dialect.in_transaction(connection):
            raise StoreFailed(
                "A job ended the transaction that it shares. Nothing is known to be stored: send it again."
            )


def _resolve(future: Future[Any], outcome: _Outcome) -> None:
    """Answer, unless it was let go of."""
    with suppress(InvalidStateError):
        if outcome.error is None:
            future.set_result(outcome.value)
        else:
            future.set_exception(outcome.error)
