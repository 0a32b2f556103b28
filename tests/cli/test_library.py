"""`leadline load` and `leadline verify`: the library and the log, from the command line."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from app.service.runs import Service
from app.store.engine import FILE_NAME
from tests.served import called, free_port, leadline
from tests.service.making import SAMPLES, SMALL, SetClock, done, settings, small_run, store


def revisions(data: Path) -> int:
    with closing(sqlite3.connect(data / FILE_NAME)) as other:
        return int(other.execute("SELECT count(*) FROM revision").fetchone()[0])


def test_load_twice_changes_nothing(tmp_path: Path) -> None:
    files = sorted(SAMPLES.glob("*.yaml"))
    first = called("load", *files, "--data", "data", folder=tmp_path)
    again = called("load", *files, "--data", "data", folder=tmp_path)
    assert (first.returncode, again.returncode) == (0, 0)
    assert first.stdout.count("loaded as revision") == len(files)
    assert again.stdout.count("already there as revision") == len(files)
    assert revisions(tmp_path / "data") == len(files)


def test_load_refuses_a_faulty_file_whole_and_loads_the_others(tmp_path: Path) -> None:
    good, bad = tmp_path / "good.yaml", tmp_path / "bad.yaml"
    good.write_bytes(SMALL)
    bad.write_bytes(SMALL.replace(b"5 min", b"5"))
    said = called("load", bad, good, "--data", "data", folder=tmp_path)
    assert said.returncode == 1
    assert f"{bad}:10:" in said.stderr
    assert "1 of 2 files refused." in said.stderr
    assert revisions(tmp_path / "data") == 1


def test_a_data_folder_that_cannot_be_one_is_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    for words in (["load", str(SAMPLES / "pump-changeout.yaml")], ["verify", "1"], ["serve"], ["demo"]):
        words += ["--port", str(free_port())] if len(words) == 1 else []
        said = called(*words, "--data", tmp_path / "file", folder=tmp_path)
        assert said.returncode == 1, said
        assert "Traceback" not in said.stderr
        assert str(tmp_path / "file") in said.stderr


@pytest.fixture
def marked(tmp_path: Path) -> int:
    """A run with four events, in a data folder that nobody has open."""
    with store(tmp_path) as opened:
        service = Service(opened, SetClock().server())
        run = small_run(service)
        for step in ("rig/1", "rig/2", "paint/1"):
            done(service, run, step)
    return run


def tamper(folder: Path, statement: str) -> None:
    """As somebody would with a tool of their own, who takes the triggers away first."""
    with closing(sqlite3.connect(settings(folder).data / FILE_NAME, isolation_level=None)) as other:
        for (trigger,) in other.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            other.execute(f"DROP TRIGGER {trigger}")
        assert other.execute(statement).rowcount == 1


def test_verify_finds_a_whole_log_whole_and_prints_its_head(tmp_path: Path, marked: int) -> None:
    said = leadline("verify", marked, "--data", "data", folder=tmp_path)
    assert said.returncode == 0
    head = said.stdout.split()[-1]
    assert len(head) == 64
    assert "4 events, chain whole" in said.stdout
    assert called("verify", marked, "--head", head, "--data", "data", folder=tmp_path).returncode == 0
    other = called("verify", marked, "--head", "0" * 64, "--data", "data", folder=tmp_path)
    assert other.returncode == 1
    assert "cut off" in other.stderr


@pytest.mark.parametrize("statement", [
    "UPDATE event SET at_s = 1 WHERE seq = 3",
    "UPDATE event SET by = 'Somebody' WHERE seq = 2",
    "UPDATE event SET body = replace(body, 'rig/1', 'rig/2') WHERE seq = 2",
    "DELETE FROM event WHERE seq = 3",
    "DELETE FROM event WHERE seq = 4",
])  # fmt: skip
def test_verify_finds_a_tampered_event(tmp_path: Path, marked: int, statement: str) -> None:
    tamper(tmp_path, statement)
    said = called("verify", marked, "--data", "data", folder=tmp_path)
    assert said.returncode == 1
    assert said.stderr.startswith(f"Run {marked}: ")
    assert "Traceback" not in said.stderr


def test_verify_of_a_run_that_is_not_there_is_a_sentence(tmp_path: Path, marked: int) -> None:
    said = called("verify", marked + 1, "--data", "data", folder=tmp_path)
    assert said.returncode == 1
    assert "no run" in said.stderr
    assert "Traceback" not in said.stderr
