"""`leadline verify`, `backup` and `restore`, with and without a server on the data."""

import re
import sqlite3
import stat
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from app.service.runs import Service
from app.store.engine import FILE_NAME
from tests.ports import free_port
from tests.served import called, leadline, served
from tests.service.making import SetClock, done, settings, small_run, store
from tests.store.loosening import loosened
from tests.store.released import populated, rows_of

SENTENCE = re.compile(r"[^\n]*[.:)]\n?")


@pytest.fixture
def marked(tmp_path: Path) -> int:
    """A run with four events, in a data folder that nobody has open."""
    with store(tmp_path) as opened:
        service = Service(opened, SetClock().server())
        run = small_run(service)
        for step in ("rig/1", "rig/2", "paint/1"):
            done(service, run, step)
    return run


@pytest.fixture
def data() -> Iterator[Path]:
    """The newest release's folder: runs of 52, 10 and 2 events, two accounts, a session."""
    with populated() as folder:
        yield folder


def tamper(folder: Path, statement: str) -> None:
    loosened(settings(folder).data / FILE_NAME, statement)


def head_in(said: str, run: int = 1) -> str:
    """The head that was printed of a run."""
    found = re.search(rf"^Run {run}: .*head ([0-9]+:[0-9a-f]{{64}})$", said, re.M)
    assert found is not None, said
    return found[1]


# verify


def test_verify_finds_a_whole_log_whole_and_prints_its_head(tmp_path: Path, marked: int) -> None:
    said = leadline("verify", marked, "--data", "data", folder=tmp_path)
    assert (said.returncode, said.stderr) == (0, "")
    assert said.stdout.startswith(f"Run {marked}: 4 events, chain whole, head 4:")
    assert called("verify", "--data", "data", folder=tmp_path).stdout == said.stdout


@pytest.mark.parametrize("form", ["{seq}:{name}", "{name}", "{name:.12}", "{seq}:{name:.20}", " {seq}:{upper} "])
def test_verify_takes_a_kept_head_in_every_form(tmp_path: Path, marked: int, form: str) -> None:
    seq, name = head_in(called("verify", "--data", "data", folder=tmp_path).stdout).split(":")
    head = form.format(seq=seq, name=name, upper=name.upper())
    assert called("verify", marked, "--head", head, "--data", "data", folder=tmp_path).returncode == 0
    tamper(tmp_path, "DELETE FROM event WHERE seq = 4")
    tamper(tmp_path, "DELETE FROM receipt WHERE first_seq = 4")
    assert called("verify", marked, "--data", "data", folder=tmp_path).returncode == 0, "without it nothing can be said"
    cut = called("verify", marked, "--head", head, "--data", "data", folder=tmp_path)
    assert cut.returncode == 1
    assert "its end was cut off" in cut.stderr


@pytest.mark.parametrize(
    "head", ["", "0123456789a", "x" * 64, "1:", "1:0123456789a", "-1:0123456789ab", "0" * 65, "٤:0123456789ab"]
)
def test_verify_refuses_what_is_no_head(tmp_path: Path, marked: int, head: str) -> None:
    said = called("verify", marked, f"--head={head}", "--data", "data", folder=tmp_path)
    assert (said.returncode, said.stdout) == (2, "")
    assert "is no chain head" in said.stderr


def test_verify_asks_whose_head_it_is(tmp_path: Path, marked: int) -> None:
    said = called("verify", "--head", "0" * 64, "--data", "data", folder=tmp_path)
    assert said.returncode == 2
    assert f"leadline verify {marked} --head" in said.stderr


@pytest.mark.parametrize("statement", [
    "UPDATE event SET at_s = 1 WHERE seq = 3",
    "UPDATE event SET by = 'Somebody' WHERE seq = 2",
    "UPDATE event SET body = replace(body, 'rig/1', 'rig/2') WHERE seq = 2",
    "DELETE FROM event WHERE seq = 3",
    "DELETE FROM event WHERE seq = 4",
    "DELETE FROM receipt WHERE first_seq = 2",
    "UPDATE run SET zero_utc = 'soon'",
    "UPDATE run SET kind = CAST(x'ff' AS TEXT)",
    "UPDATE event SET body = CAST(x'7b22ff227d' AS TEXT) WHERE seq = 2",
    "UPDATE event SET kind = 'Step' || char(27) || '[31m' WHERE seq = 2",
])  # fmt: skip
def test_verify_finds_a_tampered_record(tmp_path: Path, marked: int, statement: str) -> None:
    tamper(tmp_path, statement)
    for words in (("verify", marked), ("verify",)):
        said = called(*words, "--data", "data", folder=tmp_path)
        assert (said.returncode, said.stdout) == (1, "")
        assert said.stderr.startswith(f"Run {marked}: ")
        assert said.stderr.replace("\n", "").isprintable()
        assert "restore the last backup" in said.stderr


def test_verify_says_that_the_guards_were_taken_out(tmp_path: Path, marked: int) -> None:
    with closing(sqlite3.connect(settings(tmp_path).data / FILE_NAME)) as other:
        other.execute("DROP TRIGGER event_no_update")
        other.execute("DROP TRIGGER run_no_delete")
        other.execute(
            "CREATE TRIGGER run_no_delete BEFORE DELETE ON run WHEN false BEGIN SELECT RAISE(ABORT, 'x'); END"
        )
    said = called("verify", marked, "--data", "data", folder=tmp_path)
    assert said.returncode == 1
    assert "chain whole" in said.stdout
    assert "taken out of this database, or others put in: run_no_delete, event_no_update." in said.stderr


GUARD = "CREATE TRIGGER event_no_update BEFORE UPDATE ON event BEGIN SELECT RAISE(ABORT, 'no')"


@pytest.mark.parametrize(
    "guard",
    [
        f"{GUARD} WHERE 0; END",
        GUARD.replace("BEGIN", "WHEN 0 BEGIN") + "; END",
        GUARD.replace("UPDATE ON", "UPDATE OF seq ON") + "; END",
        GUARD.replace("RAISE(ABORT, 'no')", "1") + "; END",
        "CREATE TRIGGER other BEFORE INSERT ON event BEGIN SELECT RAISE(IGNORE); END",
    ],
)
def test_verify_says_that_a_guard_guards_no_more(tmp_path: Path, marked: int, guard: str) -> None:
    name = guard.split()[2]
    with closing(sqlite3.connect(settings(tmp_path).data / FILE_NAME)) as other:
        other.execute(f"DROP TRIGGER IF EXISTS {name}")
        other.execute(guard)
    said = called("verify", marked, "--data", "data", folder=tmp_path)
    assert said.returncode == 1
    assert f"or others put in: {name}." in said.stderr


@pytest.mark.parametrize("odd", ["-5", "0"])
def test_verify_finds_a_run_that_was_made_up_or_emptied(data: Path, odd: str) -> None:
    with closing(sqlite3.connect(data / FILE_NAME)) as other:
        row = other.execute("SELECT * FROM run WHERE run = 3").fetchone()
        columns = [each[1] for each in other.execute("PRAGMA table_info(run)").fetchall()]
        values = dict(zip(columns, row, strict=True)) | {"run": int(odd)}
        marks = ", ".join("?" * len(columns))
        other.execute(f"INSERT INTO run VALUES ({marks})", [values[name] for name in columns])
        other.commit()
    said = called("verify", "--data", data, folder=data)
    assert said.returncode == 1
    assert f"Run {odd}: its events are missing" in said.stderr
    assert f"there is a run {odd}: runs are numbered from 1" in said.stderr


def test_verify_finds_a_whole_run_that_is_gone(data: Path) -> None:
    with closing(sqlite3.connect(data / FILE_NAME)) as other:
        for (trigger,) in other.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            other.execute(f"DROP TRIGGER {trigger}")
        for table in ("event", "receipt", "run"):
            other.execute(f"DELETE FROM {table} WHERE run = 2")
        other.commit()
    said = called("verify", "--data", data, folder=data)
    assert said.returncode == 1
    assert "run 2 is missing" in said.stderr


@pytest.mark.parametrize("run", [0, 2, -1, 10**30])
def test_verify_of_a_run_that_is_not_there_is_a_sentence(tmp_path: Path, marked: int, run: int) -> None:
    said = called("verify", "--data", "data", "--", run, folder=tmp_path)
    assert (marked, said.returncode) == (1, 1)
    assert said.stderr == f"There is no run {run}.\n"


def test_verify_leaves_an_older_releases_database_as_it_is(tmp_path: Path, data: Path) -> None:
    before = (data / FILE_NAME).read_bytes()
    assert called("verify", "--data", data, folder=tmp_path).returncode == 0
    assert (data / FILE_NAME).read_bytes() == before


# backup


def test_a_backup_is_one_private_file_that_holds_everything(tmp_path: Path, data: Path) -> None:
    said = called("backup", "to", "--data", data, folder=tmp_path)
    assert said.returncode == 0, said.stderr
    assert said.stdout.startswith("to: 3 runs, 64 events\nRun 1: 52 events, head 52:")
    assert [file.name for file in tmp_path.iterdir()] == ["to"]
    assert stat.S_IMODE((tmp_path / "to").stat().st_mode) == 0o600
    assert rows_of(tmp_path / "to") == rows_of(data / FILE_NAME)


def test_a_backup_into_a_folder_is_named_by_the_time(tmp_path: Path, data: Path) -> None:
    for _ in range(2):
        assert called("backup", tmp_path, "--data", data, folder=tmp_path).returncode == 0
    names = sorted(file.name for file in tmp_path.iterdir())
    assert len(names) == 2
    assert all(re.fullmatch(r"leadline-\d{8}T\d{6}Z(-2)?\.sqlite3", name) for name in names)


def test_a_backup_never_replaces_a_file(tmp_path: Path, data: Path) -> None:
    (tmp_path / "to").write_text("mine")
    said = called("backup", "to", "--data", data, folder=tmp_path)
    assert (said.returncode, said.stdout) == (1, "")
    assert "to is there already, and nothing was written" in said.stderr
    assert [(file.name, file.read_text()) for file in tmp_path.iterdir()] == [("to", "mine")]


def test_where_no_backup_can_be_written_is_a_sentence(tmp_path: Path, data: Path) -> None:
    (tmp_path / "file").touch()
    for to in ("none/to", "none/", "file/to", "x" * 300):
        said = called("backup", to, "--data", data, folder=tmp_path)
        assert said.returncode in (1, 2)
        assert SENTENCE.fullmatch(said.stderr), said.stderr
    assert [file.name for file in tmp_path.iterdir()] == ["file"]


def test_a_log_that_does_not_fit_is_backed_up_as_it_is_and_said(tmp_path: Path, marked: int) -> None:
    tamper(tmp_path, "UPDATE event SET at_s = 1 WHERE seq = 3")
    said = called("backup", "to", "--data", "data", folder=tmp_path)
    assert said.returncode == 1
    assert f"Run {marked}: event 3 was changed" in said.stderr
    assert rows_of(tmp_path / "to") == rows_of(settings(tmp_path).data / FILE_NAME)


# With a server on the data


def test_verify_and_backup_and_restore_work_while_a_server_has_the_data(tmp_path: Path, data: Path) -> None:
    with served(("serve", "--port", str(free_port()), "--data", data), tmp_path) as server:
        assert server.process.poll() is None
        for words in (("verify",), ("verify", 2), ("backup", "to"), ("restore", "to")):
            where = "new" if words[0] == "restore" else data
            said = called(*words, "--data", where, folder=tmp_path)
            assert (said.returncode, said.stderr) == (0, ""), words
        refused = called("restore", "to", "--data", data, folder=tmp_path)
        assert (refused.returncode, refused.stdout) == (1, "")
        assert "holds a database already" in refused.stderr
        assert server.process.poll() is None
    assert called("verify", "--data", data, folder=tmp_path).returncode == 0
