"""Everything copied from one database into another of either kind, checked there, and all of it or nothing."""

import signal
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import make_url

from app.core.events import StepMarked
from app.store.copy_places import Backup, Folder, Place, Server, place_of
from app.store.copying import TABLES, CannotCopy
from app.store.engine import FILE_NAME
from app.store.faults import DataInUse, NoDatabase, StoreFault
from app.store.restoring import CannotRestore
from app.store.secret import SECRET_NAME
from app.store.sqlite_store import SqliteStore
from app.store.tables import METADATA
from tests.harm.examined import examine
from tests.served import ROOT, called, environment
from tests.store.copies import address, copied, rows, secret_of
from tests.store.loosening import loosened
from tests.store.making import MIGRATIONS, a_run, append


@pytest.fixture(params=["folder", "server"])
def target(request: pytest.FixtureRequest, tmp_path: Path) -> Folder | Server:
    """Where to, of either kind."""
    made: Folder | Server = Folder(tmp_path / "new") if request.param == "folder" else request.getfixturevalue("server")
    return made


def test_everything_is_copied_and_what_it_was_copied_from_is_left_as_it_was(
    data: Path, target: Folder | Server, tmp_path: Path
) -> None:
    before = rows(Folder(data))
    made = copied(Folder(data), target)
    assert made.rows == {"revision": 2, "run": 3, "origin": 0, "receipt": 59, "event": 64, "person": 2}
    assert {run: seq for run, (seq, _) in made.heads.items()} == {1: 52, 2: 10, 3: 2}
    assert rows(target) == before == rows(Folder(data))
    assert secret_of(target) == secret_of(Folder(data))
    copied(target, Folder(tmp_path / "again"))
    assert rows(Folder(tmp_path / "again")) == before
    assert secret_of(Folder(tmp_path / "again")) == secret_of(Folder(data))
    found = examine(tmp_path / "again")
    assert (found.events, found.gaps, found.halves, found.faults) == (64, 0, 0, ())


def test_imported_runs_and_texts_of_any_language_come_along(
    data: Path, tmp_path: Path, target: Folder | Server
) -> None:
    with SqliteStore(tmp_path / "data", MIGRATIONS) as store:
        run = a_run(store, "procedure: mast # “ü” 😀 \u202e \x85 line\r\nend")
        append(store, run, "key-1", (StepMarked("mast/1"), StepMarked("mast/2")), {"seq": 2, "said": "ü\u2028😀"})
        append(store, run, "key-2", (), "nothing \x00 came of it")
    assert called("export", 1, "--as", "jsonl", "--to", "run.jsonl", "--data", data, folder=tmp_path).returncode == 0
    brought = called("import", "run.jsonl", "--data", "data", folder=tmp_path)
    assert brought.returncode == 0, brought.stderr
    copied(Folder(tmp_path / "data"), target)
    assert rows(target) == rows(Folder(tmp_path / "data"))
    assert [(run, at_origin) for run, at_origin, *_ in rows(target)["origin"]] == [(2, 1)]


CUT = """
import os, signal, sys
from datetime import UTC, datetime
from pathlib import Path
from app.store import copying
from app.store.copy_places import copy, place_of
source, target, at = sys.argv[1:]
copy_rows, checked = copying._copy_rows, copying._checked

def die(*_):
    os.kill(os.getpid(), signal.SIGKILL)

def until(source, target, table):
    copy_rows(source, target, table)
    if table.name == at:
        die()

copying._copy_rows = until
if at == "the end":
    copying._checked = lambda *both: (checked(*both), die())
copy(place_of(source), place_of(target), Path("migrations"), datetime.now(UTC))
"""


@pytest.mark.parametrize("at", ["revision", "event", "the end"])
def test_a_copy_that_is_killed_leaves_nothing_and_can_be_made_again(
    data: Path, target: Folder | Server, at: str
) -> None:
    said = str(target) if isinstance(target, Folder) else address(target)
    words = [sys.executable, "-c", CUT, str(data), said, at]
    cut = subprocess.run(words, cwd=ROOT, env=environment(), capture_output=True, text=True, timeout=60, check=False)
    assert cut.returncode == -signal.SIGKILL, cut.stderr
    if isinstance(target, Folder):
        assert not (target.path / FILE_NAME).exists()
    else:
        assert not any(rows(target).values())
    assert copied(Folder(data), target).rows["event"] == 64
    assert rows(target) == rows(Folder(data))


def test_a_backup_s_file_is_copied_too(data: Path, tmp_path: Path) -> None:
    file = tmp_path / "kept.sqlite3"
    with SqliteStore(data, MIGRATIONS) as opened:
        opened.backup(file)
        # A backup is nobody's: that a server has the folder that it was made of is no hindrance.
        made = copied(place_of(str(file)), Folder(tmp_path / "new"))
    assert made.rows["event"] == 64
    assert rows(Folder(tmp_path / "new")) == rows(Backup(file))


def test_the_secret_comes_along_so_that_open_pages_may_send_what_they_kept_and_sessions_do_not(
    data: Path, tmp_path: Path
) -> None:
    copied(Folder(data), Folder(tmp_path / "new"))
    assert (tmp_path / "new" / SECRET_NAME).read_bytes() == (data / SECRET_NAME).read_bytes()
    sessions = "SELECT count(*) FROM session"
    with closing(sqlite3.connect(tmp_path / "new" / FILE_NAME)) as raw:
        assert raw.execute(sessions).fetchone() == (0,)
    with closing(sqlite3.connect(data / FILE_NAME)) as raw:
        assert raw.execute(sessions).fetchone() == (1,)


def test_what_is_made_is_private(data: Path, tmp_path: Path) -> None:
    copied(Folder(data), Folder(tmp_path / "new"))
    modes = {each.name: oct(each.stat().st_mode & 0o777) for each in (tmp_path / "new").iterdir()}
    assert modes == {FILE_NAME: "0o600", SECRET_NAME: "0o600", "leadline.lock": "0o600"}


def test_a_folder_that_a_server_has_is_not_copied(data: Path, tmp_path: Path) -> None:
    with SqliteStore(data, MIGRATIONS, "127.0.0.1:8000"), pytest.raises(DataInUse, match=r"at 127\.0\.0\.1:8000"):
        copied(Folder(data), Folder(tmp_path / "new"))
    assert not (tmp_path / "new").exists()


def test_only_an_empty_or_a_new_place_is_copied_to(data: Path, tmp_path: Path) -> None:
    SqliteStore(tmp_path / "old", MIGRATIONS).close()
    with pytest.raises(CannotRestore, match="holds a database already, and nothing in it was touched"):
        copied(Folder(data), Folder(tmp_path / "old"))
    (tmp_path / "file").touch()
    with pytest.raises(CannotCopy, match="is a file"):
        copied(Folder(data), place_of(str(tmp_path / "file")))


def test_a_folder_without_a_database_is_named(tmp_path: Path) -> None:
    with pytest.raises(NoDatabase, match="There is no database"):
        copied(Folder(tmp_path / "none"), Folder(tmp_path / "new"))
    assert sorted(tmp_path.iterdir()) == []


def test_tables_of_an_older_leadline_are_not_copied(data: Path, tmp_path: Path) -> None:
    loosened(data / FILE_NAME, "UPDATE alembic_version SET version_num = '0003'")
    with pytest.raises(CannotCopy, match="of an older Leadline"):
        copied(Folder(data), Folder(tmp_path / "new"))
    assert not (tmp_path / "new").exists()


CHANGES = {
    "an event's body": 'UPDATE event SET body = \'{"step":"x/1"}\' WHERE run = 1 AND seq = 9',
    "an event that is gone": "DELETE FROM event WHERE run = 1 AND seq = 52",
    "a receipt of other events": "UPDATE receipt SET last_seq = last_seq + 1 WHERE run = 2 AND first_seq = 9",
    "a text": "UPDATE revision SET text = text || ' '",
}


@pytest.mark.parametrize("what", CHANGES)
def test_what_is_not_sound_is_not_copied(data: Path, tmp_path: Path, what: str) -> None:
    loosened(data / FILE_NAME, CHANGES[what])
    with pytest.raises(CannotCopy, match="not sound"):
        copied(Folder(data), Folder(tmp_path / "new"))
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize(
    ("said", "place"),
    [
        ("sqlite:///some/folder", Folder(Path("some/folder"))),
        ("sqlite:////some/folder/leadline.sqlite3", Folder(Path("/some/folder"))),
        ("folder", Folder(Path("folder"))),
        ("postgresql+psycopg://desk@db/leadline", Server(make_url("postgresql+psycopg://desk@db/leadline"))),
        ("postgresql://desk@db/leadline", Server(make_url("postgresql+psycopg://desk@db/leadline"))),
    ],
)
def test_a_place_is_read_from_an_address_or_a_path(said: str, place: Place) -> None:
    assert place_of(said) == place


@pytest.mark.parametrize(
    "said",
    [
        "mysql://desk:secret-word@db/leadline",
        "sqlite://",
        "sqlite://host/x",
        "nonsense://",
        "postgresql+psycopg://desk:secret-word@db",
    ],
)
def test_what_is_no_place_is_refused_without_its_password(said: str) -> None:
    with pytest.raises((CannotCopy, StoreFault)) as refused:
        place_of(said)
    assert "secret-word" not in str(refused.value)


def test_every_table_is_copied_but_sessions_and_what_has_a_way_of_its_own() -> None:
    assert {table.name for table in TABLES} == METADATA.tables.keys() - {"session", "kept"}
