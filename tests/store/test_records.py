"""An imported run is kept as safely as one that was made here: verified, guarded, backed up, restored whole or cut."""

import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy.exc import DBAPIError

from app.service.run_files import import_run, run_file
from app.service.runs import Service
from app.store import library
from app.store.engine import FILE_NAME, writer_engine
from app.store.faults import NotSafe
from app.store.glance import look
from app.store.migrate import downgrade
from app.store.refilling import Cut
from app.store.restoring import restore
from app.store.sound import soundness
from app.store.sqlite_store import SqliteStore
from app.store.verifying import verify
from tests.service.making import SetClock, small_run, store
from tests.service.recorded import recorded
from tests.store.loosening import loosened
from tests.store.making import MIGRATIONS

NOW = datetime(2031, 6, 1, tzinfo=UTC)


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    """A data folder with a run of its own, 1, and one that was run 3 where it was made, 2."""
    clock = SetClock()
    with store(tmp_path / "made") as made:
        here = Service(made, clock.server())
        small_run(here), small_run(here)
        data = run_file(here, recorded(here, clock), "jsonl").data
    with store(tmp_path / "kept") as opened:
        there = Service(opened, clock.server())
        small_run(there)
        import_run(there, data, "x.jsonl", "Ana")
    return tmp_path / "kept" / "data"


def test_it_verifies_from_outside_while_nobody_serves(kept: Path) -> None:
    with look(kept / FILE_NAME, MIGRATIONS) as conn:
        found = soundness(conn)
    assert found.faults() == ()
    assert {run: each.events for run, each in found.runs.items()} == {1: 1, 2: 13}


@pytest.mark.parametrize("change", [
    "UPDATE origin SET at_origin = 2", "DELETE FROM origin", "UPDATE run SET kind = 'rehearsal' WHERE run = 2",
    "UPDATE event SET \"by\" = 'Nobody' WHERE run = 2 AND seq = 5",
    "DELETE FROM receipt WHERE run = 2 AND first_seq = 5",
    "INSERT INTO origin VALUES (1, 9, '2031-05-04T07:00:00.000Z', 'Ana', 'x')",
])  # fmt: skip
def test_a_change_of_it_shows(kept: Path, change: str) -> None:
    loosened(kept / FILE_NAME, change)
    with look(kept / FILE_NAME, MIGRATIONS) as conn:
        assert soundness(conn).faults() != ()


@pytest.mark.parametrize("act", ["UPDATE origin SET at_origin = 4", "DELETE FROM origin"])
def test_where_it_came_from_can_t_be_changed(kept: Path, act: str) -> None:
    with SqliteStore(kept, MIGRATIONS) as opened, pytest.raises(DBAPIError, match="never changed or deleted"):
        opened.write(lambda conn: conn.exec_driver_sql(act)).result()


def test_a_guard_of_its_table_that_was_taken_out_is_missed(kept: Path) -> None:
    with closing(sqlite3.connect(kept / FILE_NAME)) as raw:
        raw.execute("DROP TRIGGER origin_no_update")
    with look(kept / FILE_NAME, MIGRATIONS) as conn:
        assert soundness(conn).guards == ("origin_no_update",)


@pytest.mark.parametrize("cut", [None, Cut(2, 6), Cut(1, 1)])
def test_a_backup_of_it_is_restored_whole_or_cut(kept: Path, tmp_path: Path, cut: Cut | None) -> None:
    with SqliteStore(kept, MIGRATIONS) as opened:
        opened.backup(tmp_path / "backup.sqlite3")
        wanted = opened.read(lambda conn: library.run(conn, 2))
    made = restore(tmp_path / "backup.sqlite3", tmp_path / "restored", MIGRATIONS, NOW, cut)
    assert made.found.faults() == ()
    ends = cut.seq if cut is not None and cut.run == 2 else 13
    with SqliteStore(made.folder, MIGRATIONS) as again:
        assert again.read(lambda conn: library.run(conn, 2)) == wanted
        found = again.read(lambda conn: verify(conn, 2))
        assert (found.ok, found.events) == (True, ends)
        assert Service(again, SetClock().server()).run(2).state.seq == ends


def test_older_tables_have_no_place_for_it_and_are_not_gone_back_to(kept: Path) -> None:
    engine = writer_engine(kept)
    with pytest.raises(NotSafe, match="imported runs"):
        downgrade(engine, MIGRATIONS, "0002")
    engine.dispose()
    with look(kept / FILE_NAME, MIGRATIONS) as conn:
        assert soundness(conn).faults() == ()
