"""Where nothing can be written beside a database, it is looked at as it lies, and nobody is told that it is damaged."""

import errno
import fcntl
import os
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

from app.store.engine import FILE_NAME
from app.store.faults import DataInUse, StoreFailed, StoreFull
from app.store.lying import lying
from app.store.sound import soundness
from app.store.sqlite_store import SqliteStore
from tests.disks import on, small_disk
from tests.harm.small_disk import SmallDisk
from tests.store.making import MIGRATIONS, append
from tests.store.released import populated

WAL, SHM = f"{FILE_NAME}-wal", f"{FILE_NAME}-shm"


@pytest.fixture
def data() -> Iterator[Path]:
    """A folder whose server stopped: runs of 52, 10 and 2 events."""
    with populated() as folder:
        yield folder


@pytest.fixture
def killed(data: Path, tmp_path: Path) -> Path:
    """What a killed server left, copied without the file that says what is in the log: run 1 has 53 events."""
    folder = tmp_path / "killed"
    folder.mkdir()
    with SqliteStore(data, MIGRATIONS) as store:
        append(store, 1, "only in the log")
        for name in (FILE_NAME, WAL):
            shutil.copyfile(data / name, folder / name)
    return folder


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[SmallDisk]:
    with small_disk(tmp_path) as small:
        (small.outside / "data").mkdir()
        yield small


def put(disk: SmallDisk, files: Mapping[str, bytes], how: str) -> None:
    for name, content in files.items():
        (disk.outside / "data" / name).write_bytes(content)
    if how == "full":
        disk.fill()
    else:
        disk.make_read_only()


@pytest.mark.parametrize("how", ["full", "read-only"])
@pytest.mark.parametrize("beside", [(), (WAL,), (WAL, SHM)], ids=["nothing", "a log", "a log and its index"])
def test_a_stopped_servers_data_are_verified_where_nothing_can_be_written(
    data: Path, disk: SmallDisk, how: str, beside: tuple[str, ...]
) -> None:
    put(disk, {FILE_NAME: (data / FILE_NAME).read_bytes(), **dict.fromkeys(beside, b"")}, how)
    said = on(disk, "verify", "--data", disk.inside / "data")
    assert (said.returncode, said.stderr) == (0, "")
    assert said.stdout.startswith("Run 1: 52 events, chain whole")


@pytest.mark.parametrize("how", ["full", "read-only"])
def test_a_killed_servers_data_are_verified_with_their_log_where_nothing_can_be_written(
    killed: Path, disk: SmallDisk, how: str
) -> None:
    put(disk, {name: (killed / name).read_bytes() for name in (FILE_NAME, WAL)}, how)
    for _ in range(2):  # The first leaves what SQLite began to write.
        said = on(disk, "verify", "--data", disk.inside / "data")
        assert (said.returncode, said.stderr) == (0, "")
        assert said.stdout.startswith("Run 1: 53 events, chain whole")
    assert (disk.outside / "data" / WAL).read_bytes() == (killed / WAL).read_bytes()


def test_a_full_disk_is_backed_up_to_another_and_restored(data: Path, disk: SmallDisk, tmp_path: Path) -> None:
    put(disk, {FILE_NAME: (data / FILE_NAME).read_bytes()}, "full")
    kept = on(disk, "backup", tmp_path / "kept", "--data", disk.inside / "data")
    assert (kept.returncode, kept.stderr) == (0, "")
    assert kept.stdout.startswith(f"{tmp_path / 'kept'}: 3 runs, 64 events")
    for backup in (tmp_path / "kept", disk.inside / "data" / FILE_NAME):
        made = on(disk, "restore", backup, "--data", tmp_path / f"from-{backup.name}")
        assert (made.returncode, made.stderr) == (0, "")


def found(folder: Path) -> tuple[int, tuple[str, ...]]:
    """How many events run 1 has, and the faults, looked at as it lies."""
    with lying(folder / FILE_NAME) as engine, engine.connect() as conn, conn.begin():
        every = soundness(conn)
    return every.runs[1].events, every.faults()


def test_a_database_is_read_as_it_lies_or_with_its_log_as_a_copy(data: Path, killed: Path) -> None:
    for folder in (data, killed):
        before = {file.name: file.read_bytes() for file in folder.iterdir()}
        assert found(folder) == (53, ())
        assert {file.name: file.read_bytes() for file in folder.iterdir()} == before


def test_the_copy_is_gone_after_the_look(killed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "scratch").mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "scratch"))
    with lying(killed / FILE_NAME):
        (made,) = (tmp_path / "scratch").iterdir()
        assert made.stat().st_mode & 0o077 == 0
    assert list((tmp_path / "scratch").iterdir()) == []


def test_a_database_that_a_server_has_is_not_read_as_it_lies(data: Path) -> None:
    with (
        SqliteStore(data, MIGRATIONS),
        pytest.raises(StoreFailed, match=r"a server has it\. Make room"),
        lying(data / FILE_NAME),
    ):
        pass


def test_no_server_begins_while_a_database_is_read_as_it_lies(data: Path) -> None:
    with lying(data / FILE_NAME), lying(data / FILE_NAME), pytest.raises(DataInUse):
        SqliteStore(data, MIGRATIONS)
    with SqliteStore(data, MIGRATIONS) as store:
        assert append(store, 1, "k1")[0].seq == 53


def test_a_database_that_another_program_may_have_open_is_not_read_as_it_lies(data: Path) -> None:
    (data / SHM).write_bytes(bytes(32_768))
    with pytest.raises(StoreFailed, match="another program may have it open"), lying(data / FILE_NAME):
        pass


def test_a_half_changed_database_is_not_read_as_it_lies(data: Path) -> None:
    (data / f"{FILE_NAME}-journal").write_bytes(b"x")
    with pytest.raises(StoreFailed, match=r"half changed.* Copy its whole folder"), lying(data / FILE_NAME):
        pass


def test_a_database_that_can_not_be_held_is_not_read_as_it_lies(data: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_locks(_file: int, _how: int) -> None:
        raise OSError(errno.ENOLCK, os.strerror(errno.ENOLCK))

    monkeypatch.setattr(fcntl, "flock", no_locks)
    with pytest.raises(StoreFailed, match="No locks available"), lying(data / FILE_NAME):
        pass


def test_no_room_for_the_copy_is_a_sentence(killed: Path, disk: SmallDisk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(disk.outside))
    disk.fill()
    with pytest.raises(StoreFull, match=r"there is no room for it\). Copy its whole folder"), lying(killed / FILE_NAME):
        pass
    assert sorted(file.name for file in disk.outside.iterdir()) == ["ballast", "data"]


def test_a_copy_of_what_was_written_to_meanwhile_is_not_used(killed: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def copied(source: Path, target: Path) -> None:
        target.write_bytes(source.read_bytes())
        with source.open("ab") as file:
            file.write(b"x")

    monkeypatch.setattr(shutil, "copyfile", copied)
    with pytest.raises(StoreFailed, match="written to while it was copied"), lying(killed / FILE_NAME):
        pass
