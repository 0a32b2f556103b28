"""Any change to a stored log shows. The tampering is done on a plain connection, with the triggers dropped."""

import hashlib
import json
import sqlite3
from collections.abc import Callable, Mapping
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from app.core.events import NoteAdded, RunStarted, StepMarked
from app.core.heads import HeadFault
from app.store import engine, journal
from app.store.engine import FILE_NAME
from app.store.sqlite_store import SqliteStore
from app.store.verifying import Verified, verify
from tests.harm import tampering
from tests.harm.damaging import damaged_files
from tests.store.making import MIGRATIONS, a_run, append

TABLES = ("revision", "run", "receipt", "event")
Tamper = Callable[[sqlite3.Connection], object]


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """A closed store with one run of five events under four keys."""
    with SqliteStore(tmp_path, MIGRATIONS) as store:
        run = a_run(store)
        append(store, run, "k1", (RunStarted("ab" * 32, "live", "2031-05-04T12:00:00Z"),))
        append(store, run, "k2", (StepMarked("mast/1"), StepMarked("mast/2", (("bar", 207.5),))))
        append(store, run, "k3", (NoteAdded("torque wrench is sticky"),))
        append(store, run, "none", ())
        append(store, run, "k4")
    return tmp_path


def _tampered(data: Path, tamper: Tamper, head: str | None = None) -> Verified:
    with closing(sqlite3.connect(data / FILE_NAME, isolation_level=None)) as raw:
        for table in TABLES:
            raw.execute(f"DROP TRIGGER {table}_no_update")
            raw.execute(f"DROP TRIGGER {table}_no_delete")
        tamper(raw)
    with SqliteStore(data, MIGRATIONS) as store:
        return store.read(lambda conn: verify(conn, 1, head))


def _sql(*statements: str) -> Tamper:
    return lambda raw: [raw.execute(said) for said in statements]


def test_an_untouched_log_is_sound(data: Path) -> None:
    found = _tampered(data, _sql())
    assert (found.ok, found.events, found.fault, len(found.head)) == (True, 5, None, 64)


def test_the_chain_can_be_worked_out_from_its_description_alone(data: Path) -> None:
    def canonical(value: object) -> str:
        return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False)

    with closing(sqlite3.connect(data / FILE_NAME)) as raw:
        raw.row_factory = sqlite3.Row
        chain = hashlib.sha256(canonical(dict(raw.execute("SELECT * FROM run").fetchone())).encode()).hexdigest()
        for row in raw.execute("SELECT * FROM event ORDER BY seq"):
            values = dict(row) | {"body": json.loads(row["body"])}
            del values["chain"]
            chain = hashlib.sha256((chain + canonical(values)).encode()).hexdigest()
            assert row["chain"] == chain


@pytest.mark.parametrize("seq", [1, 2, 3, 4, 5])
@pytest.mark.parametrize(
    "change",
    [
        "at_s = at_s + 1",
        "logged_s = 0",
        "logged_at = '2031-05-04T12:00:00.251Z'",
        "\"by\" = 'Nobody'",
        "station = ''",
        "body = body || ' '",
        "body = '{'",
        "kind = 'StepBlessed'",
        "kind = 'RunEnded'",
        "version = 2",
        "key = 'none'",
        "chain = '00'",
        "seq = seq + 100",
    ],
)
def test_a_changed_event_is_found_where_it_is(data: Path, seq: int, change: str) -> None:
    found = _tampered(data, _sql("PRAGMA foreign_keys=OFF", f"UPDATE event SET {change} WHERE seq = {seq}"))
    assert not found.ok
    assert found.events == seq - 1
    assert found.fault is not None
    assert f"event {seq}" in found.fault


@pytest.mark.parametrize("seq", [1, 2, 3, 4, 5])
def test_a_deleted_event_is_found(data: Path, seq: int) -> None:
    found = _tampered(data, _sql(f"DELETE FROM event WHERE seq = {seq}"))
    assert not found.ok
    assert found.fault is not None


def test_two_swapped_events_are_found(data: Path) -> None:
    swap = _sql(*(f"UPDATE event SET seq = {new} WHERE seq = {old}" for old, new in ((2, 99), (3, 2), (99, 3))))
    assert not _tampered(data, swap).ok


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ("UPDATE receipt SET last_seq = 2 WHERE key = 'k2'", "the receipt of key k2"),
        ("DELETE FROM receipt WHERE key = 'k3'", "the receipt of key k3 is missing"),
        ("DELETE FROM event WHERE seq = 5", "events 5 to 5 are missing: the receipt of key k4"),
        ("UPDATE revision SET text = 'another'", "the text of revision"),
        ("DELETE FROM revision", "is missing"),
        (
            "UPDATE receipt SET answer = 'no json' WHERE key = 'none'",
            "the receipt of key none was changed: its answer can't",
        ),
        ("UPDATE receipt SET answer = '{\"seq\": 5}' WHERE key = 'k4'", "its answer is not in the form"),
        ("UPDATE receipt SET answer = '{\"seq\":4}' WHERE key = 'k4'", "its answer is of other events"),
        ("UPDATE receipt SET answer = '{\"run\":2}' WHERE key = 'k1'", "its answer is of other events"),
        (
            "UPDATE receipt SET sent = 'x' WHERE key = 'k3'",
            "the receipt of key k3 was changed: what was sent is no hash",
        ),
        (
            "INSERT INTO receipt VALUES (1, 'made up', 's', NULL, NULL, 'null')",
            "the receipt of key made up was changed",
        ),
        ("UPDATE run SET zero_utc = '2031-05-04T12:00:01.250Z'", "event 1 was changed"),
        ("UPDATE run SET kind = 'rehearsal'", "event 1 was changed"),
    ],
)
def test_what_belongs_to_the_log_is_checked_too(data: Path, said: str, sentence: str) -> None:
    fault = _tampered(data, _sql("PRAGMA foreign_keys=OFF", said)).fault
    assert fault is not None
    assert sentence in fault


def test_a_tail_cut_off_cleanly_shows_only_against_a_head_kept_elsewhere(data: Path) -> None:
    with SqliteStore(data, MIGRATIONS) as store:
        kept = store.read(lambda conn: verify(conn, 1)).head
        assert store.read(lambda conn: verify(conn, 1, kept.upper())).kept_at == 5
    cut = _sql("DELETE FROM event WHERE seq = 5", "DELETE FROM receipt WHERE key = 'k4'")
    found = _tampered(data, cut, kept)
    assert not found.ok
    assert found.fault is not None
    assert "its end was cut off" in found.fault
    with SqliteStore(data, MIGRATIONS) as store:
        assert store.read(lambda conn: verify(conn, 1)).ok, "without it nothing can be said"


def test_a_log_that_went_on_past_the_kept_head_is_sound(data: Path) -> None:
    with SqliteStore(data, MIGRATIONS) as store:
        kept = store.read(lambda conn: verify(conn, 1)).head
        append(store, 1, "k5")
        found = store.read(lambda conn: verify(conn, 1, kept))
    assert (found.ok, found.events, found.kept_at) == (True, 6, 5)


def test_a_kept_head_says_what_became_of_the_log(data: Path) -> None:
    with SqliteStore(data, MIGRATIONS) as store:
        whole = store.read(lambda conn: verify(conn, 1))
        logged = store.read(lambda conn: journal.read(conn, 1))
        append(store, 1, "k5")

        def found(head: str) -> Verified:
            return store.read(lambda conn: verify(conn, 1, head))

        for one in logged:
            for head in (f"{one.seq}:{one.chain}", one.chain, one.chain[:12], f"{one.seq}:{one.chain[:12].upper()}"):
                assert (found(head).fault, found(head).kept_at) == (None, one.seq)
        assert whole.head_words == f"5:{logged[-1].chain}"
        assert "its end was cut off: it ends at event 6, and the head 9:" in str(found(f"9:{'0' * 64}").fault)
        assert "it was made anew, or the head is of another run" in str(found(f"3:{logged[3].chain}").fault)
        assert "is not in this log: its end was cut off" in str(found("0" * 64).fault)
        for nothing in ("", " ", "5", "5:", logged[-1].chain[:11]):
            with pytest.raises(HeadFault, match="no chain head"):
                found(nothing)


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("body", b"\xff"),
        ("body", 7),
        ("body", "[" * 100_000),
        ("body", "9" * 10_000),
        ("body", '{"step":"mast/1","values":{}}'),
        ("kind", b"StepMarked"),
        ("kind", "\x1b[2J"),
        ("version", "one"),
        ("version", None),
        ("at_s", 2.5),
        ("key", None),
        ("key", b"k4"),
        ("chain", None),
        ("by", "\x00"),
        ("seq", "five"),
    ],
)
def test_a_value_of_any_type_is_told_of_in_words(data: Path, column: str, value: object) -> None:
    """In tables that were made to take it."""

    def put(raw: sqlite3.Connection) -> None:
        raw.execute("CREATE TABLE loose AS SELECT * FROM event")
        raw.execute("PRAGMA foreign_keys=OFF")
        raw.execute(f'UPDATE loose SET "{column}" = ? WHERE seq = 5', (value,))
        raw.execute("DROP TABLE event")
        raw.execute("ALTER TABLE loose RENAME TO event")

    found = _tampered(data, put)
    assert (found.ok, found.events) == (False, 4)
    assert found.fault is not None
    assert found.fault.isprintable()


@pytest.mark.parametrize("what", ["zero_utc = x'ff'", "zero_utc = CAST(x'ff' AS TEXT)", "kind = 3", "revision = NULL"])
def test_a_runs_own_row_that_can_not_be_read_is_told_of_in_words(data: Path, what: str) -> None:
    def put(raw: sqlite3.Connection) -> None:
        raw.execute("PRAGMA foreign_keys=OFF")
        raw.execute("CREATE TABLE loose AS SELECT * FROM run")
        raw.execute(f"UPDATE loose SET {what}")
        raw.execute("DROP TABLE run")
        raw.execute("ALTER TABLE loose RENAME TO run")

    found = _tampered(data, put)
    assert (found.ok, found.events) == (False, 0)
    assert found.fault is not None


def test_damaged_files_are_told_of_and_never_taken_for_whole() -> None:
    found = damaged_files(files=25, seed=7)
    assert found["broken"] == []
    assert found["told to be damaged"] > found["harmless"] > 0


def test_a_walk_that_left_something_out_would_be_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the harness says of tampering would be worth nothing if it could not say otherwise."""

    def forgets_who(before: str, values: Mapping[str, Any], body: Any) -> str:
        known = {name: value for name, value in values.items() if name != "by"}
        return names.setdefault((before, repr(sorted(known.items())), repr(body)), values["chain"])

    names: dict[tuple[str, str, str], str] = {}
    monkeypatch.setattr("app.store.verifying.next_chain", forgets_who)
    found = tampering.tampering(runs=(3,))
    assert any(", by: " in said for said in found["broken"])


def test_a_writer_that_replaces_rows_would_be_found(monkeypatch: pytest.MonkeyPatch) -> None:
    loose = tuple(each for each in engine.WRITER_PRAGMAS if not each.startswith("recursive_triggers"))
    monkeypatch.setattr(engine, "WRITER_PRAGMAS", loose)
    assert any("REPLACE INTO event" in said for said in tampering.rewriting()["broken"])
