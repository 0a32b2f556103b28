"""The one thread that writes: it takes the jobs that wait, runs them in one transaction, and answers after COMMIT.

A job is a function of the connection. It must not commit, roll back or keep the connection.
"""

from collections.abc import Callable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from queue import Empty, SimpleQueue
from threading import Lock, Thread
from typing import Any, TypeVar

from sqlalchemy import Connection, Engine

from app.store.engine import checkpoint, driver, failure_of, in_transaction
from app.store.faults import StoreClosed, StoreFailed

T = TypeVar("T")

MOST_TOGETHER = 256
"""Jobs in one commit at most: it bounds how long the first of them waits for the last."""

TIDY_WITHIN_MS = 200
"""How long the last checkpoint waits for a reader in another process, such as a backup: a stop takes 2 s at most."""


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

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
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

    def close(self, before: Callable[[], None] | None = None) -> None:
        """Finish what was queued, empty the write-ahead log into the file, and end the thread.

        Args:
            before: called between the two; it closes the readers, so that they do not hold the log.
        """
        with self._gate:
            if not self._closed:
                self._closed = True
                self._before = before
                self._jobs.put(None)
        self._thread.join()

    def _run(self) -> None:
        going = True
        while going:
            batch, going = self._take()
            if batch:
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
        try:
            outcomes = self._commit(batch)
        except StoreFailed as failed:
            # One exception each: callers in several threads must not write their tracebacks into a shared one.
            outcomes = [_Outcome(error=type(failed)(*failed.args)) for _ in batch]
        for job, outcome in zip(batch, outcomes, strict=True):
            if outcome.error is None:
                job.future.set_result(outcome.value)
            else:
                job.future.set_exception(outcome.error)

    def _commit(self, batch: Sequence[_Job]) -> list[_Outcome]:
        """All jobs in one transaction, which is committed when this returns.

        Raises:
            StoreFailed: it is not committed; nothing of it is left.
        """
        try:
            connection = self._connection()
            with connection.begin() as whole:
                outcomes = [_alone(connection, job.work) for job in batch]
                whole.commit()
        except Exception as error:
            # Of whatever kind: the thread must live, and nobody may wait for ever.
            self._clear_up()
            failed = failure_of(error)
            raise failed or StoreFailed(f"The database refused: {error}. Nothing was stored.") from error
        return outcomes

    def _connection(self) -> Connection:
        if self._held is None:
            self._held = self._engine.connect()
        return self._held

    def _clear_up(self) -> None:
        """After a failed transaction, be sure that none is left open: it would hold the lock for ever."""
        if self._held is None:
            return
        try:
            self._held.rollback()
            inner = driver(self._held)
            if inner.in_transaction:
                inner.rollback()
        except Exception:  # noqa: BLE001 - whatever is wrong with it, a new connection is the remedy
            self._let_go(tidy=False)

    def _let_go(self, *, tidy: bool) -> None:
        held, self._held = self._held, None
        if held is None:
            return
        try:
            if tidy:
                driver(held).execute(f"PRAGMA busy_timeout={TIDY_WITHIN_MS}").close()
                checkpoint(held)
            else:
                held.invalidate()
            held.close()
        except Exception:  # noqa: BLE001 - the log file stays and is read at the next start; nothing is lost
            held.invalidate()


def _alone(connection: Connection, work: Callable[[Connection], Any]) -> _Outcome:
    """Run one job inside a savepoint of its own.

    Raises:
        StoreFailed: the whole transaction is lost, not only this job.
    """
    connection.exec_driver_sql("SAVEPOINT job")
    try:
        value = work(connection)
    except BaseException as error:  # It belongs to the job's caller, who must not wait for ever.
        if failed := failure_of(error):
            raise failed from error
        _still_open(connection)
        connection.exec_driver_sql("ROLLBACK TO job")
        connection.exec_driver_sql("RELEASE job")
        return _Outcome(error=error)
    _still_open(connection)
    connection.exec_driver_sql("RELEASE job")
    return _Outcome(value=value)


def _still_open(connection: Connection) -> None:
    if not connection.in_transaction() or not in_transaction(connection):
        raise StoreFailed("A job ended the transaction that it shares. Nothing is known to be stored: send it again.")
