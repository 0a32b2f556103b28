"""Figures on the record: what the application's own connection can't rewrite, and what a walk along the chain finds."""

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from functools import partial
from itertools import pairwise
from typing import Any

from sqlalchemy import Connection
from sqlalchemy.exc import IntegrityError

from app.core.heads import head_words
from app.store.engine import FILE_NAME, driver, writer_engine
from app.store.journal import next_chain, start
from app.store.sound import GUARDED, soundness
from app.store.sqlite_store import SqliteStore
from app.store.verifying import verify
from tests.harm.damaging import damaged_files
from tests.store.making import MIGRATIONS
from tests.store.released import populated, rows_of

__all__ = ["damaged_files", "rewriting", "tampering"]
Figures = dict[str, Any]
Change = tuple[str, tuple[Any, ...]]


def _statements(columns: dict[str, list[str]]) -> Iterator[str]:
    """All ways in which SQL can change a stored row, but for taking the triggers away."""
    for table, names in columns.items():
        listed = ", ".join(f'"{name}"' for name in names)
        every = f"SELECT {listed} FROM {table} WHERE true"
        yield f"DELETE FROM {table}"
        yield (
            f"DELETE FROM {table} WHERE run IN (SELECT max(run) FROM run)"
            if table != "revision"
            else ("DELETE FROM revision WHERE hash IN (SELECT max(hash) FROM revision)")
        )
        for how in ("INSERT OR REPLACE", "REPLACE"):
            yield f"{how} INTO {table} ({listed}) {every}"
        for name in names:
            yield f'UPDATE {table} SET "{name}" = "{name}"'
            yield f'UPDATE OR REPLACE {table} SET "{name}" = (SELECT max("{name}") FROM {table})'
            yield f'UPDATE OR IGNORE {table} SET "{name}" = (SELECT min("{name}") FROM {table})'
            yield f'INSERT INTO {table} ({listed}) {every} ON CONFLICT DO UPDATE SET "{name}" = excluded."{name}"'
            yield f'WITH one AS (SELECT 1) UPDATE {table} SET "{name}" = "{name}" WHERE true RETURNING "{name}"'


def rewriting() -> Figures:
    """Try to rewrite the record on the connection that writes it, as the application has it."""
    with populated() as data, SqliteStore(data, MIGRATIONS, "harm") as store:
        before = rows_of(data / FILE_NAME)
        columns = {name: store.read(partial(_columns, table=name)) for name in GUARDED}
        tried, broken = 0, []
        for said in _statements(columns):
            tried += 1
            try:
                store.write(partial(Connection.exec_driver_sql, statement=said)).result()
                broken.append(f"not blocked: {said}")
            except IntegrityError as error:
                if "never changed or deleted" not in str(error.orig):
                    broken.append(f"blocked by chance ({error.orig}): {said}")
        if rows_of(data / FILE_NAME) != before:
            broken.append("rows are not what they were")
        return {"statements": tried, "blocked": tried - len(broken), "broken": broken}


def _columns(conn: Connection, table: str) -> list[str]:
    return [str(row[1]) for row in conn.exec_driver_sql(f"PRAGMA table_info({table})")]


class _Bench:
    """A populated database whose triggers were taken out; each change is looked at, and rolled back."""

    def __init__(self, conn: Connection) -> None:
        self._conn = conn
        self.tried = 0
        self.broken: list[str] = []

    def events(self, run: int) -> list[dict[str, Any]]:
        rows = self._conn.exec_driver_sql("SELECT * FROM event WHERE run = ? ORDER BY seq", (run,)).mappings()
        found = [{str(name): value for name, value in row.items()} for row in rows]
        self._conn.rollback()
        return found

    def start(self, run: int) -> str:
        found = start(self._conn, run)
        self._conn.rollback()
        return found

    def try_it(self, what: str, run: int, *changes: Change, head: str | None = None) -> bool:
        """Make the changes, walk, take them back. Returns whether something was found."""
        with self._conn.begin() as change:
            for said, values in changes:
                if self._conn.exec_driver_sql(said, values).rowcount == 0:
                    raise AssertionError(f"{what} changed nothing: {said} {values}")
            found = verify(self._conn, run, head).fault or soundness(self._conn).file
            change.rollback()
        return bool(found)

    def must_show(self, what: str, run: int, *changes: Change, head: str | None = None) -> None:
        self.tried += 1
        if not self.try_it(what, run, *changes, head=head):
            self.broken.append(f"not found: {what}")


@contextmanager
def _bench() -> Iterator[_Bench]:
    with populated() as data:
        with closing(sqlite3.connect(data / FILE_NAME)) as raw:
            for (name,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
                raw.execute(f"DROP TRIGGER {name}")
        engine = writer_engine(data)
        with engine.connect() as conn:
            driver(conn).execute("PRAGMA foreign_keys=OFF").close()
            yield _Bench(conn)
        engine.dispose()


def tampering(runs: tuple[int, ...] = (1, 2, 3)) -> Figures:
    """Change, delete and swap every event in every column; cut and remake the log everywhere. All must be found."""
    silent = 0
    with _bench() as bench:
        for run in runs:
            events = bench.events(run)
            _change(bench, run, events)
            _delete_and_swap(bench, run, events)
            silent += _cut(bench, run, events)
            _remake(bench, run, events)
            _beside(bench, run, events)
        return {
            "changes": bench.tried,
            "found": bench.tried - len(bench.broken),
            "cuts that only a head kept elsewhere shows": silent,
            "broken": bench.broken,
        }


def _others(name: str, value: object, events: list[dict[str, Any]]) -> Iterator[object]:
    """What a column may be changed to."""
    if isinstance(value, int):
        near = () if name == "run" else (value + 1,)  # The next run has events of its own at these places.
        yield from (*near, value + 100_000, -value - 1)
        return
    text = str(value)
    yield from (f"{text} ", f"x{text[1:]}", text[:-1], "", text.swapcase(), f"{text}\x00")
    if name == "body":
        yield from (text.replace(":", ": ", 1), "{}", "null", "[" * 3000, text.replace("e", "\u0435", 1))
    yield from {event[name] for event in events[:3]}


def _change(bench: _Bench, run: int, events: list[dict[str, Any]]) -> None:
    for event in events:
        for name, value in event.items():
            for other in dict.fromkeys(_others(name, value, events)):
                taken = name == "seq" and any(other == each["seq"] for each in events)
                if other != value and not taken:
                    said = f'UPDATE event SET "{name}" = ? WHERE run = ? AND seq = ?'
                    what = f"run {run}, event {event['seq']}, {name}: {str(other)[:20]!r}"
                    bench.must_show(what, run, (said, (other, run, event["seq"])))


def _delete_and_swap(bench: _Bench, run: int, events: list[dict[str, Any]]) -> None:
    for event in events:
        seq = event["seq"]
        bench.must_show(f"run {run}, {seq} deleted", run, ("DELETE FROM event WHERE run = ? AND seq = ?", (run, seq)))
    move = "UPDATE event SET seq = ? WHERE run = ? AND seq = ?"
    for one, other in pairwise(events):
        a, b = one["seq"], other["seq"]
        moves = [(move, (new, run, old)) for old, new in ((a, -1), (b, a), (-1, b))]
        bench.must_show(f"run {run}, {a} and {b} swapped", run, *moves)
        said = 'UPDATE event SET kind = ?, body = ?, "by" = ? WHERE run = ? AND seq = ?'
        inside = [(said, (x["kind"], x["body"], x["by"], run, y["seq"])) for x, y in ((one, other), (other, one))]
        if (one["kind"], one["body"], one["by"]) != (other["kind"], other["body"], other["by"]):
            bench.must_show(f"run {run}, what {a} and {b} say swapped", run, *inside)


def _cut(bench: _Bench, run: int, events: list[dict[str, Any]]) -> int:
    """Cut the tail off with its receipts, at every event. Returns how many cuts show only by a kept head."""
    silent, last = 0, events[-1]
    heads = (
        head_words(last["seq"], last["chain"]),
        last["chain"],
        last["chain"][:12],
        f"{last['seq']}:{last['chain'][:16]}",
    )
    for event in events[:-1]:
        seq = event["seq"]
        cut = [
            ("DELETE FROM event WHERE run = ? AND seq > ?", (run, seq)),
            ("DELETE FROM receipt WHERE run = ? AND last_seq > ?", (run, seq)),
        ]
        bench.must_show(f"run {run}, cut after {seq}, receipts left", run, cut[0])
        for head in heads:
            bench.must_show(f"run {run}, cut after {seq}, head {head[:16]}", run, *cut, head=head)
        silent += not bench.try_it("cut", run, *cut)
    return silent


def _remake(bench: _Bench, run: int, events: list[dict[str, Any]]) -> None:
    """Change an event and make the chain anew from there, as somebody would who knows how it is made."""
    last = events[-1]
    kept = head_words(last["seq"], last["chain"])
    for place, event in enumerate(events):
        chain = events[place - 1]["chain"] if place else bench.start(run)
        changes = []
        for later in events[place:]:
            at_s = later["at_s"] + (later is event)
            values = {name: value for name, value in later.items() if name not in ("chain", "body")} | {"at_s": at_s}
            chain = next_chain(chain, values, json.loads(later["body"]))
            said = "UPDATE event SET at_s = ?, chain = ? WHERE run = ? AND seq = ?"
            changes.append((said, (at_s, chain, run, later["seq"])))
        what = f"run {run}, made anew from {event['seq']}"
        if bench.try_it(what, run, *changes):
            bench.broken.append(f"{what}: the chain was not made as it should be, so this shows nothing")
        bench.must_show(what, run, *changes, head=kept)
        bench.must_show(what, run, *changes, head=last["chain"])


def _beside(bench: _Bench, run: int, events: list[dict[str, Any]]) -> None:
    """What belongs to a log: its receipts, its run's own row, its revision."""
    for key in dict.fromkeys(event["key"] for event in events):
        where = "WHERE run = ? AND key = ?"
        for said in ("first_seq = first_seq + 1", "last_seq = last_seq + 1", "first_seq = NULL", "key = key || 'x'"):
            bench.must_show(f"run {run}, receipt: {said}", run, (f"UPDATE receipt SET {said} {where}", (run, key)))
        bench.must_show(f"run {run}, receipt deleted", run, (f"DELETE FROM receipt {where}", (run, key)))
    revision = "(SELECT revision FROM run WHERE run = ?)"
    for said in ("text = text || ' '", "text = replace(text, 'e', 'E')", "text = ''", "hash = upper(hash)"):
        bench.must_show(f"revision: {said}", run, (f"UPDATE revision SET {said} WHERE hash = {revision}", (run,)))
    bench.must_show("revision deleted", run, (f"DELETE FROM revision WHERE hash = {revision}", (run,)))
    other = "(SELECT hash FROM revision WHERE hash <> revision)"
    for said in (
        "kind = kind || ' '",
        "zero_utc = '2031-05-04T07:00:00.001Z'",
        "started_at = ''",
        f"revision = {other}",
    ):
        bench.must_show(f"run {run}: {said}", run, (f"UPDATE run SET {said} WHERE run = ?", (run,)))
