"""A look from outside sees one moment, whatever a server does meanwhile, and changes nothing, not even the log file."""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from sqlalchemy.exc import DBAPIError

from app.store.engine import FILE_NAME, driver
from app.store.faults import Damaged, NoDatabase, StoreFailed
from app.store.glance import look
from app.store.sound import soundness
from app.store.sqlite_store import SqliteStore
from app.store.store import Store
from tests.disks import on, small_disk
from tests.store.making import MIGRATIONS, a_run, append
from tests.store.released import populated


@pytest.fixture
def data() -> Iterator[Path]:
    with populated() as folder:
        yield folder


def test_a_look_sees_one_moment_while_a_server_writes(store: Store) -> None:
    run = a_run(store)
    append(store, run, "k1")
    with look(store.data_dir / FILE_NAME, MIGRATIONS) as conn:
        before = soundness(conn)
        for number in range(50):
            append(store, run, f"later {number}")
        assert soundness(conn) == before
        assert before.runs[run].events == 1
    with look(store.data_dir / FILE_NAME, MIGRATIONS) as conn:
        assert soundness(conn).runs[run].events == 51


@pytest.mark.parametrize(
    "said", ["DELETE FROM session", "INSERT INTO alembic_version VALUES ('x')", "CREATE TABLE x (a)", "VACUUM"]
)
def test_a_look_can_not_write_even_if_it_is_told_that_it_may(store: Store, said: str) -> None:
    append(store, a_run(store), "k1")
    with look(store.data_dir / FILE_NAME, MIGRATIONS) as conn:
        driver(conn).rollback()
        driver(conn).execute("PRAGMA query_only=OFF").close()
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            driver(conn).execute(said)


@pytest.mark.parametrize("how", ["PASSIVE", "FULL", "RESTART", "TRUNCATE"])
def test_a_look_makes_no_checkpoint_even_if_it_is_told_to(store: Store, how: str) -> None:
    append(store, a_run(store), "k1")
    files = [store.data_dir / name for name in (FILE_NAME, f"{FILE_NAME}-wal")]
    before = [file.read_bytes() for file in files]
    assert all(before)
    with look(files[0], MIGRATIONS) as conn:
        driver(conn).rollback()
        with suppress(sqlite3.OperationalError):
            driver(conn).execute(f"PRAGMA wal_checkpoint({how})").close()
    assert [file.read_bytes() for file in files] == before


def test_the_last_look_to_close_leaves_what_a_killed_server_left(data: Path, tmp_path: Path) -> None:
    """A log beside the file that nobody has emptied yet: it is the next server's to do."""
    with SqliteStore(data, MIGRATIONS) as store:
        append(store, 1, "only in the log")
        names = (FILE_NAME, f"{FILE_NAME}-wal")
        for name in names:
            (tmp_path / name).write_bytes((data / name).read_bytes())
    before = [(tmp_path / name).read_bytes() for name in names]
    assert before[1]
    with look(tmp_path / FILE_NAME, MIGRATIONS) as conn:
        assert soundness(conn).runs[1].events == 53
    assert [(tmp_path / name).read_bytes() for name in names] == before


def test_a_server_stops_and_starts_while_somebody_looks(data: Path) -> None:
    with SqliteStore(data, MIGRATIONS) as store:
        append(store, 1, "k1")
    with look(data / FILE_NAME, MIGRATIONS) as conn:
        with SqliteStore(data, MIGRATIONS) as store:
            append(store, 1, "k2")
        assert soundness(conn).runs[1].events == 53
    with SqliteStore(data, MIGRATIONS) as store:
        assert append(store, 1, "k3")[0].seq == 55


def test_a_database_on_a_disk_that_takes_no_writing_can_be_verified(data: Path, tmp_path: Path) -> None:
    with small_disk(tmp_path) as small:
        (small.outside / FILE_NAME).write_bytes((data / FILE_NAME).read_bytes())
        small.make_read_only()
        said = on(small, "verify", "--data", small.inside)
        assert (said.returncode, said.stderr) == (0, "")
        assert said.stdout.startswith("Run 1: 52 events, chain whole")


def test_a_name_with_signs_that_an_address_gives_a_meaning_is_a_name(data: Path, tmp_path: Path) -> None:
    for name in ("50% ?mode=rw#x", "ü &immutable=1", "a b"):
        file = tmp_path / name
        file.write_bytes((data / FILE_NAME).read_bytes())
        with look(file, MIGRATIONS) as conn:
            assert soundness(conn).events == 64
    file = tmp_path / os.fsdecode(b"\xff.sqlite3")
    file.write_bytes((data / FILE_NAME).read_bytes())
    with look(file, MIGRATIONS) as conn:
        assert soundness(conn).events == 64


def test_what_can_not_be_looked_at_is_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "empty").touch()
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "text").write_text("SQLite format 3\x00 and then something else\n" * 100)
    for name in ("none", "empty", "pipe", ".", "empty/below"):
        with pytest.raises(NoDatabase), look(tmp_path / name, MIGRATIONS):
            pass
    with pytest.raises(Damaged, match="damaged, or never was one"), look(tmp_path / "text", MIGRATIONS):
        pass


def test_a_database_that_somebody_holds_says_so_and_is_not_called_damaged(
    data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("app.store.engine.READER_PRAGMAS", ("busy_timeout=50", "query_only=ON"))
    holder = sqlite3.connect(data / FILE_NAME, isolation_level=None)
    holder.execute("PRAGMA journal_mode=DELETE").close()
    with look(data / FILE_NAME, MIGRATIONS) as conn:
        assert soundness(conn).events == 64
    holder.execute("BEGIN EXCLUSIVE")
    try:
        with pytest.raises(StoreFailed, match="Another program holds"), look(data / FILE_NAME, MIGRATIONS):
            pass
        with pytest.raises(StoreFailed) as caught, look(data / FILE_NAME, MIGRATIONS):
            pass
        assert not isinstance(caught.value, Damaged)
        assert isinstance(caught.value.__cause__, DBAPIError | sqlite3.Error)
    finally:
        holder.close()
