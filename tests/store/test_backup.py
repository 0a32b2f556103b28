"""A copy is whole or is not there: full disks, a name that is taken, a folder that can't be written, a kill."""

import errno
import os
import signal
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from app.store.backup import copy, fault_of
from app.store.engine import FILE_NAME
from app.store.faults import NotSafe
from app.store.keeping import keep
from app.store.sqlite_store import SqliteStore
from tests.disks import on, small_disk
from tests.served import ROOT, environment
from tests.store.making import MIGRATIONS, a_run, append
from tests.store.released import populated, rows_of

NOW = datetime(2031, 5, 4, 12, 0, tzinfo=UTC)


@pytest.fixture
def source(tmp_path: Path) -> Path:
    """A closed store with a run of forty events."""
    with SqliteStore(tmp_path / "data", MIGRATIONS) as store:
        run = a_run(store)
        for number in range(40):
            append(store, run, f"k{number}")
    return tmp_path / "data" / FILE_NAME


def copied(source: Path, target: Path) -> Path:
    with closing(sqlite3.connect(source)) as raw:
        return copy(raw, target)


def test_a_check_that_fails_leaves_no_copy(source: Path, tmp_path: Path) -> None:
    (tmp_path / "to").mkdir()

    def refuse(partial: Path) -> None:
        with closing(sqlite3.connect(partial)) as raw:
            assert fault_of(raw) is None
        raise NotSafe("not like this")

    with closing(sqlite3.connect(source)) as raw, pytest.raises(NotSafe, match="not like this"):
        copy(raw, tmp_path / "to" / "copy", refuse)
    assert list((tmp_path / "to").iterdir()) == []


def test_a_damaged_source_gives_no_copy(source: Path, tmp_path: Path) -> None:
    data = bytearray(source.read_bytes())
    data[4096 * 8 :] = bytes(len(data) - 4096 * 8)
    source.write_bytes(data)
    (tmp_path / "to").mkdir()
    with pytest.raises(NotSafe, match="could not be made"):
        copied(source, tmp_path / "to" / "copy")
    assert list((tmp_path / "to").iterdir()) == []


def test_a_file_that_came_meanwhile_is_not_replaced(source: Path, tmp_path: Path) -> None:
    (tmp_path / "to").mkdir()
    target = tmp_path / "to" / "copy"
    with closing(sqlite3.connect(source)) as raw, pytest.raises(FileExistsError, match="there already"):
        copy(raw, target, lambda _partial: target.write_text("mine"))
    assert [(each.name, each.read_text()) for each in target.parent.iterdir()] == [("copy", "mine")]


def test_where_a_file_can_have_one_name_only_the_copy_still_gets_it(
    source: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def forbidden(*_: object) -> None:
        raise PermissionError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", forbidden)
    (tmp_path / "to").mkdir()
    target = tmp_path / "to" / "copy"
    assert rows_of(copied(source, target)) == rows_of(source)
    assert [each.name for each in target.parent.iterdir()] == ["copy"]
    with closing(sqlite3.connect(source)) as raw, pytest.raises(FileExistsError):
        copy(raw, target.with_name("other"), lambda _partial: target.with_name("other").write_text("mine"))
    assert target.with_name("other").read_text() == "mine"


def test_two_copies_to_one_name_at_once_make_one_whole_file(source: Path, tmp_path: Path) -> None:
    target = tmp_path / "copy"
    inner: list[Path] = []
    with closing(sqlite3.connect(source)) as raw, pytest.raises(FileExistsError):
        copy(raw, target, lambda _partial: inner.append(copied(source, target)))
    assert inner == [target]
    assert rows_of(target) == rows_of(source)
    assert not list(tmp_path.glob("*.partial*"))


def test_a_backup_that_is_killed_leaves_no_file_of_that_name(tmp_path: Path) -> None:
    """It is stopped while it checks its copy, when that is finished but for its name."""
    program = (
        "import os, signal, sys; from app.cli import cli; from app.store import keeping\n"
        "keeping.soundness = lambda _: os.kill(os.getpid(), signal.SIGKILL)\n"
        "cli(sys.argv[1:])"
    )
    with populated() as data:
        words = [sys.executable, "-c", program, "backup", str(tmp_path / "to"), "--data", str(data)]
        done = subprocess.run(words, cwd=ROOT, env=environment(), check=False, capture_output=True)
        assert done.returncode == -signal.SIGKILL
        assert [each.name.endswith(".partial") for each in tmp_path.iterdir()] == [True]
        assert keep(data, tmp_path / "to", MIGRATIONS, NOW).found.faults() == ()
        assert rows_of(tmp_path / "to") == rows_of(data / FILE_NAME)


@pytest.mark.parametrize("how", ["backup", "restore", "restore to an event"])
def test_a_full_disk_is_a_sentence_and_nothing_is_left_on_it(tmp_path: Path, how: str) -> None:
    with small_disk(tmp_path) as small, populated() as data:
        disk = small.inside
        small.fill(but_kb=40)
        words: dict[str, list[str | Path | int]] = {
            "backup": ["backup", disk / "to", "--data", data],
            "restore": ["restore", data / FILE_NAME, "--data", disk / "new"],
            "restore to an event": ["restore", data / FILE_NAME, "--data", disk / "new", "--run", 1, "--to", 30],
        }
        said = on(small, *words[how])
        assert (said.returncode, said.stdout) == (1, "")
        assert "no room on that disk" in said.stderr
        assert "Traceback" not in said.stderr
        assert [each.name for each in small.outside.iterdir()] == ["ballast"]
