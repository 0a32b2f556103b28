"""The store on a SQLite file: the contract, and what only a file has."""

import sqlite3
import stat
import time
from contextlib import closing
from pathlib import Path

import pytest

from app.store import journal, library
from app.store.backup import fault_of
from app.store.engine import FILE_NAME
from app.store.faults import StoreFailed
from app.store.secret import SECRET_NAME
from app.store.sqlite_store import SqliteStore
from app.store.store import Store
from app.store.verifying import verify
from tests.store.contract import StoreContract
from tests.store.making import MIGRATIONS, a_run, append


class TestTheSqliteStore(StoreContract):
    """Every claim of the contract, on a migrated file."""


def _mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_folder_and_files_are_private_while_in_use(store: Store) -> None:
    append(store, a_run(store), "k1")
    store.backup(store.data_dir / "copy.sqlite3")
    modes = {file.name: _mode(file) for file in store.data_dir.iterdir()}
    ours = {FILE_NAME, f"{FILE_NAME}-wal", f"{FILE_NAME}-shm", "leadline.lock", SECRET_NAME, "copy.sqlite3"}
    assert ours == set(modes)
    assert set(modes.values()) == {0o600}
    assert _mode(store.data_dir) == 0o700


def test_closing_leaves_one_file_with_everything_in_it(tmp_path: Path) -> None:
    with SqliteStore(tmp_path / "data", MIGRATIONS) as store:
        run = a_run(store)
        logged = append(store, run, "k1")
    assert sorted(file.name for file in (tmp_path / "data").iterdir()) == ["leadline.lock", SECRET_NAME, FILE_NAME]
    with SqliteStore(tmp_path / "data", MIGRATIONS) as again:
        assert again.read(lambda conn: journal.read(conn, run)) == list(logged)


def test_closing_twice_does_no_harm(tmp_path: Path) -> None:
    store = SqliteStore(tmp_path / "data", MIGRATIONS)
    store.close()
    store.close()
    with SqliteStore(tmp_path / "data", MIGRATIONS) as again:
        assert again.read(library.runs) == ()


def test_a_backup_taken_in_use_is_whole_and_verifies(store: Store, tmp_path: Path) -> None:
    run = a_run(store)
    append(store, run, "k1")
    (tmp_path / "kept").mkdir()
    copy = store.backup(tmp_path / "kept" / FILE_NAME)
    with closing(sqlite3.connect(copy)) as raw:
        assert fault_of(raw) is None
    with pytest.raises(FileExistsError):
        store.backup(copy)
    with SqliteStore(tmp_path / "kept", MIGRATIONS) as restored:
        assert restored.read(lambda conn: verify(conn, run)) == store.read(lambda conn: verify(conn, run))


def test_a_file_that_is_no_database_is_refused_in_words_and_left_alone(tmp_path: Path) -> None:
    (tmp_path / FILE_NAME).write_text("a shopping list, long enough to be no header of a database\n" * 20)
    with pytest.raises(StoreFailed, match="damaged"):
        SqliteStore(tmp_path, MIGRATIONS)
    assert (tmp_path / FILE_NAME).read_text().startswith("a shopping list")


def test_a_reader_elsewhere_does_not_hold_up_the_stop(tmp_path: Path) -> None:
    """HARM.md: a stop takes 2 s at most, also while somebody copies or looks into the file. Nothing is lost by it."""
    store = SqliteStore(tmp_path, MIGRATIONS)
    append(store, a_run(store), "k1")
    with closing(sqlite3.connect(tmp_path / FILE_NAME, isolation_level=None)) as other:
        other.execute("BEGIN")
        other.execute("SELECT count(*) FROM event").fetchone()
        append(store, 1, "k2")
        began = time.monotonic()
        store.close()
        assert time.monotonic() - began < 2
    with SqliteStore(tmp_path, MIGRATIONS) as again:
        assert again.read(lambda conn: verify(conn, 1)).events == 2
