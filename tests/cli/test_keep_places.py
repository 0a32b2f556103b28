"""`verify`, `backup`, `restore`, `serve` where a disk is full, a folder half made, or a signal comes: in words."""

import os
import shutil
import signal
import sqlite3
import subprocess
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from app.store.engine import FILE_NAME
from app.store.owner import LOCK_NAME
from app.store.place import STAGE
from app.store.sqlite_store import SqliteStore
from tests.disks import on, small_disk
from tests.harm.small_disk import SmallDisk
from tests.ports import free_port
from tests.served import LEADLINE, called, environment, leadline, served
from tests.store.making import MIGRATIONS
from tests.store.released import populated, released, told


@pytest.fixture
def data() -> Iterator[Path]:
    """The newest release's folder: three runs, two accounts, a session."""
    with populated() as folder:
        yield folder


@pytest.fixture
def full(tmp_path: Path) -> Iterator[SmallDisk]:
    """A disk without room for a byte."""
    with small_disk(tmp_path) as disk:
        disk.fill()
        yield disk


@pytest.mark.parametrize("cut", [(), ("--run", 2, "--to", 10)], ids=["whole", "cut"])
def test_a_restore_onto_a_full_disk_names_it(data: Path, full: SmallDisk, cut: tuple[str | int, ...]) -> None:
    to = full.inside / "new"
    said = on(full, "restore", data / FILE_NAME, "--data", to, *cut)
    assert (said.returncode, said.stdout) == (1, "")
    assert said.stderr == f"The disk of {to / LOCK_NAME} is full. Make room on it, or choose another place.\n"
    assert not (full.outside / "new").exists()


def test_a_first_start_on_a_full_disk_names_it_and_speaks_of_nothing_sent(full: SmallDisk) -> None:
    to = full.inside / "new"
    said = on(full, "serve", "--data", to, "--port", free_port())
    assert (said.returncode, said.stdout) == (1, "")
    assert said.stderr == f"The disk of {to} is full. Make room on it, then start again.\n"


def test_a_backup_onto_a_full_disk_names_it(data: Path, full: SmallDisk) -> None:
    said = on(full, "backup", full.inside / "kept", "--data", data)
    assert (said.returncode, said.stdout) == (1, "")
    assert "there is no room on that disk" in said.stderr or "No space left" in said.stderr
    assert str(full.inside) in said.stderr
    assert [file.name for file in full.outside.iterdir()] == ["ballast"]


def test_an_upgrade_on_a_full_disk_says_what_to_do(tmp_path: Path, full: SmallDisk) -> None:
    full.make_room()
    older = told(released()[0], tmp_path / "older")
    (full.outside / "data").mkdir()
    (full.outside / "data" / FILE_NAME).write_bytes((older / FILE_NAME).read_bytes())
    full.fill(but_kb=64)
    said = on(full, "serve", "--data", full.inside / "data", "--port", free_port())
    assert (said.returncode, said.stdout) == (1, "")
    assert said.stderr.startswith(f"The copy {full.inside / 'data'}")
    assert said.stderr.endswith(": there is no room on that disk. Make room on it, then try again.\n")


def test_verify_of_a_database_without_runs_says_so(tmp_path: Path) -> None:
    with SqliteStore(tmp_path / "data", MIGRATIONS):
        pass
    said = called("verify", "--data", "data", folder=tmp_path)
    assert (said.returncode, said.stdout, said.stderr) == (0, "There are no runs.\n", "")


def test_a_folder_keeps_its_name_in_a_sentence(tmp_path: Path, data: Path) -> None:
    (tmp_path / "o").mkdir()
    said = called("backup", f"o/{'a' * 250}", "--data", data, folder=tmp_path)
    assert said.returncode == 1
    assert said.stderr == "o can't be written to: File name too long. Choose another place.\n"


@pytest.mark.parametrize("words", [("backup", ""), ("backup", " "), ("restore", "", "--data", "new")])
def test_an_empty_place_is_not_the_current_folder(tmp_path: Path, data: Path, words: tuple[str, ...]) -> None:
    where = () if "--data" in words else ("--data", data)
    said = called(*words, *where, folder=tmp_path)
    assert (said.returncode, said.stdout) == (2, "")
    assert "it is empty" in said.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_database_held_by_another_program_is_named_at_the_start(data: Path) -> None:
    with closing(sqlite3.connect(data / FILE_NAME, isolation_level=None)) as holder:
        holder.execute("PRAGMA locking_mode=EXCLUSIVE")
        holder.execute("BEGIN EXCLUSIVE")
        said = leadline("serve", "--data", data, "--port", free_port(), folder=data.parent)
    assert (said.returncode, said.stdout) == (1, "")
    assert said.stderr == (
        f"Another program holds the database file (database is locked): {data / FILE_NAME}. "
        "Mend that, then start again.\n"
    )


def test_what_another_account_may_not_read_is_said_so(data: Path) -> None:
    around: list[str] = []
    if os.geteuid() == 0:
        if shutil.which("setpriv") is None:
            pytest.skip("root without setpriv(1): nothing here is forbidden to it")
        around = ["setpriv", "--bounding-set=-all", "--inh-caps=-all"]
    (data / FILE_NAME).chmod(0)
    for words in (("verify",), ("backup", "kept")):
        said = subprocess.run(
            [*around, *LEADLINE, *words, "--data", str(data)],
            env=environment(),
            cwd=data.parent,
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
        assert (said.returncode, said.stdout) == (1, "")
        assert said.stderr.startswith(f"{data / FILE_NAME} is not open to this account (Permission denied).")


# What a kill leaves


def test_a_server_does_not_begin_anew_where_a_restore_was_cut_short(tmp_path: Path, data: Path) -> None:
    new = tmp_path / "new"
    (new / STAGE).mkdir(parents=True)
    (new / STAGE / FILE_NAME).write_bytes(b"half")
    (new / LOCK_NAME).touch()
    for words in (("serve", "--port", free_port()), ("load", data / FILE_NAME)):
        said = called(*words, "--data", new, folder=tmp_path)
        assert (said.returncode, said.stdout) == (1, "")
        assert said.stderr == (
            f"A restore into {new} has not ended. If it was cut short, run it again: "
            f"leadline restore BACKUP --data {new}.\n"
        )
    assert sorted(file.name for file in new.iterdir()) == [LOCK_NAME, STAGE]
    assert called("restore", data / FILE_NAME, "--data", new, folder=tmp_path).returncode == 0
    (new / STAGE).mkdir()  # A kill between the two last things that it does.
    with served(("serve", "--port", str(free_port()), "--data", new), tmp_path) as server:
        assert "There are no accounts" not in server.said


@pytest.mark.parametrize("by", [signal.SIGTERM, signal.SIGHUP, signal.SIGINT])
def test_a_backup_that_is_ended_leaves_nothing(tmp_path: Path, data: Path, by: signal.Signals) -> None:
    """Held where the copy is checked: it lies there whole, under the name that it has meanwhile."""
    script = (
        "import signal, sys, time; from app.store import keeping\n"
        "signal.signal(signal.SIGHUP, signal.SIG_DFL)\n"  # The tests may run under nohup, which ignores it for all.
        "def held(opened): print('held', flush=True); time.sleep(60)\n"
        "keeping.soundness = held\n"
        "from app.cli import main; main()"
    )
    words = [LEADLINE[0], "-c", script, "backup", "kept", "--data", str(data)]
    with subprocess.Popen(
        words, env=environment(), cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "held\n"
        assert [file.suffix for file in tmp_path.iterdir()] == [".partial"]
        process.send_signal(by)
        _, said = process.communicate(timeout=30)
    assert process.returncode != 0
    assert "Traceback" not in said
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("to", ["kept", "."])
def test_what_a_killed_backup_left_goes_with_a_later_one(tmp_path: Path, data: Path, to: str) -> None:
    name = "kept" if to == "kept" else "leadline-20310504T120000Z.sqlite3"
    left = [tmp_path / f"{name}.abcd_123.partial{end}" for end in ("", "-journal")]
    others = [tmp_path / f"{name}.ijkl_789.partial", tmp_path / "mine.partial", tmp_path / "kept.2.partial"]
    for file in (*left, *others):
        file.write_bytes(b"x")
    for file in (*left, *others[1:]):
        os.utime(file, (time.time() - 3700,) * 2)
    assert called("backup", to, "--data", data, folder=tmp_path).returncode == 0
    there = set(tmp_path.iterdir())
    assert there.isdisjoint(left)
    assert there.issuperset(others), "one is being made perhaps, and the rest are no copies of ours"
