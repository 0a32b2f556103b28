"""The data directory: private, on a disk of this machine, and owned by one server."""

import json
import os
import signal
import sqlite3
import stat
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from app.store.engine import FILE_NAME
from app.store.faults import DataInUse, NetworkFolder, NoDatabase
from app.store.owner import LOCK_NAME, Owner, refuse_owned
from app.store.place import prepare, refuse_network, replace_private
from app.store.sqlite_store import SqliteStore
from tests.store.making import MIGRATIONS, a_run

ROOT = Path(__file__).parents[2]
STARTED = datetime(2031, 5, 4, 12, 0, tzinfo=UTC)
MOUNTS = """\
/dev/vda / ext4 rw 0 0
server:/export /srv nfs4 rw 0 0
/dev/vdb /srv/disk ext4 rw 0 0
//box/share /media/our\\040share cifs rw 0 0
me@box: /home/me/far fuse.sshfs rw 0 0
C:\\134 /mnt/c 9p rw 0 0
/dev/vdc /twice ext4 rw 0 0
server:/x /twice nfs rw 0 0
"""


@pytest.mark.parametrize(
    ("folder", "kind"),
    [
        ("/srv/leadline", "nfs4"),
        ("/srv", "nfs4"),
        ("/media/our share/x", "cifs"),
        ("/home/me/far/x", "fuse.sshfs"),
        ("/mnt/c/Users", "9p"),
        ("/twice/x", "nfs"),
    ],
)
def test_a_network_file_system_is_refused_by_name(folder: str, kind: str) -> None:
    with pytest.raises(NetworkFolder, match=f"network file system \\({kind}\\)"):
        refuse_network(Path(folder), MOUNTS)


@pytest.mark.parametrize("folder", ["/srv/disk/leadline", "/var/lib", "/srvx", "/home/me/farther", "/media/our"])
def test_a_disk_of_this_machine_is_not_refused(folder: str) -> None:
    try:
        refuse_network(Path(folder), MOUNTS)
    except NetworkFolder as refused:
        pytest.fail(f"{folder} was refused: {refused}")


def test_a_folder_that_holds_other_things_keeps_its_mode_and_ours_does_not(tmp_path: Path) -> None:
    home, ours = tmp_path / "home", tmp_path / "ours" / "deep"
    home.mkdir(mode=0o755)
    home.chmod(0o755)
    (home / "letter").touch()
    assert stat.S_IMODE(prepare(home).stat().st_mode) == 0o755
    assert stat.S_IMODE(prepare(ours).stat().st_mode) == 0o700


def test_loose_modes_of_an_existing_database_are_tightened(tmp_path: Path) -> None:
    SqliteStore(tmp_path, MIGRATIONS).close()
    for file in (tmp_path, *tmp_path.iterdir()):
        file.chmod(0o777)
    with SqliteStore(tmp_path, MIGRATIONS) as store:
        a_run(store)
        assert {stat.S_IMODE(file.stat().st_mode) for file in tmp_path.iterdir()} == {0o600}
        assert stat.S_IMODE(tmp_path.stat().st_mode) == 0o700


def test_a_second_owner_is_told_who_has_it(tmp_path: Path) -> None:
    with Owner(tmp_path, "127.0.0.1:8000", STARTED):
        said = json.loads((tmp_path / LOCK_NAME).read_text())
        assert said == {"pid": os.getpid(), "address": "127.0.0.1:8000", "started": "2031-05-04T12:00:00.000Z"}
        with pytest.raises(DataInUse, match=f"process {os.getpid()} at 127.0.0.1:8000, started 2031-05-04T12:00:00"):
            Owner(tmp_path, "127.0.0.1:8001", STARTED)
    with Owner(tmp_path, "", STARTED), pytest.raises(DataInUse, match=r"process \d+, started"):
        Owner(tmp_path, "", STARTED)


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere a database is not locked besides its folder")
@pytest.mark.parametrize("link", [os.symlink, os.link])
def test_a_second_folder_with_a_link_to_the_database_is_no_second_database(
    tmp_path: Path, link: Callable[[Path, Path], None]
) -> None:
    mine, other = prepare(tmp_path / "mine"), prepare(tmp_path / "other")
    (other / FILE_NAME).unlink()
    link(mine / FILE_NAME, other / FILE_NAME)
    with Owner(mine, "127.0.0.1:8000", STARTED):
        with pytest.raises(DataInUse, match=r"in use by another Leadline"):
            Owner(other, "", STARTED)
        with sqlite3.connect(mine / FILE_NAME) as database:  # SQLite's own locks are of another kind.
            database.execute("CREATE TABLE t (a)")
        database.close()
    with Owner(other, "", STARTED):
        pass


def test_a_lock_whose_owner_has_not_yet_signed_is_still_refused(tmp_path: Path) -> None:
    with Owner(tmp_path, "", STARTED):
        (tmp_path / LOCK_NAME).write_text("[]")
        with pytest.raises(DataInUse, match="not yet said who it is"):
            Owner(tmp_path, "", STARTED)


@contextmanager
def _server(data: Path) -> Iterator["subprocess.Popen[str]"]:
    """Another process that has the store open; it says so by its first line."""
    words = [sys.executable, "-m", "tests.store.appender", str(data)]
    with subprocess.Popen(words, cwd=ROOT, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            assert process.stdout.readline().startswith("run ")
            yield process
        finally:
            process.kill()


def test_a_second_server_stops_within_two_seconds_and_the_directory_is_free_when_the_first_dies(tmp_path: Path) -> None:
    with _server(tmp_path) as first:
        began = time.monotonic()
        with pytest.raises(DataInUse, match=f"process {first.pid} at a test"):
            SqliteStore(tmp_path, MIGRATIONS)
        assert time.monotonic() - began < 2
        first.send_signal(signal.SIGKILL)
        first.wait()
    SqliteStore(tmp_path, MIGRATIONS).close()


@pytest.mark.parametrize("make", [os.mkfifo, os.mkdir])
def test_what_is_no_file_is_refused_at_once(tmp_path: Path, make: Callable[[Path], None]) -> None:
    make(tmp_path / FILE_NAME)
    with pytest.raises(NoDatabase, match="is not a file"):
        SqliteStore(tmp_path, MIGRATIONS)


def test_a_link_to_a_network_file_system_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Stood in for by a list of mounts, in which one folder is such a file system."""
    (tmp_path / "far").mkdir()
    (tmp_path / "data").mkdir()
    (tmp_path / "mounts").write_text(f"x / ext4 rw 0 0\nx {tmp_path}/far nfs4 rw 0 0\n")
    monkeypatch.setattr("app.store.place._MOUNTS", tmp_path / "mounts")
    monkeypatch.setattr(sys, "platform", "linux")
    prepare(tmp_path / "data")
    (tmp_path / "data" / FILE_NAME).rename(tmp_path / "far" / "moved")
    (tmp_path / "data" / FILE_NAME).symlink_to(tmp_path / "far" / "moved")
    with pytest.raises(NetworkFolder, match=r"far/moved lies on a network file system \(nfs4"):
        prepare(tmp_path / "data")


def test_a_secret_is_readable_by_its_owner_alone_whatever_the_umask(tmp_path: Path) -> None:
    before = os.umask(0o777)
    try:
        replace_private(tmp_path / "secret", b"s")
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "secret").stat().st_mode) == 0o600


def test_what_is_no_lock_file_holds_nobody_up(tmp_path: Path) -> None:
    """It is left to `Owner`; to open a pipe for reading would wait for ever."""
    os.mkfifo(tmp_path / LOCK_NAME)
    refuse_owned(tmp_path)
    with pytest.raises(OSError, match=LOCK_NAME):
        Owner(tmp_path, "", STARTED)


def test_a_folder_in_use_is_refused_without_a_lock_of_ones_own(tmp_path: Path) -> None:
    refuse_owned(tmp_path / "missing")
    refuse_owned(tmp_path)
    with Owner(tmp_path, "http://127.0.0.1:8000", STARTED) as owner:
        with pytest.raises(DataInUse, match=r"in use by another Leadline \(process \d+ at http://127.0.0.1:8000,"):
            refuse_owned(tmp_path)
        said = (tmp_path / LOCK_NAME).read_bytes()
        owner.release()
    refuse_owned(tmp_path)
    (tmp_path / LOCK_NAME).write_bytes(said)  # As one that was killed leaves it.
    refuse_owned(tmp_path)
    assert (tmp_path / LOCK_NAME).read_bytes() == said
    with Owner(tmp_path, "", STARTED):
        pass
