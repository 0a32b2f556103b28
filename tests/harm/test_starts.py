"""A start that cannot be is a sentence that says what to do, an exit code, no traceback. Real processes and files."""

import os
import re
import shutil
import socket
from collections.abc import Callable
from pathlib import Path

import pytest

from app.store.engine import FILE_NAME
from app.store.owner import LOCK_NAME
from tests.disks import small_disk
from tests.harm.server import HOST, NotStarted, Server

REMEDY = re.compile(r"--data|--port|[Cc]hoose|Make room|make room|Stop that one")


def _without_rights() -> list[str]:
    """The words before a command that is to have no more rights than a plain account; none are needed for one."""
    if os.geteuid() != 0:
        return []
    if shutil.which("setpriv") is None:
        pytest.skip("root without setpriv(1): nothing here is forbidden to it")
    return ["setpriv", "--bounding-set=-all", "--inh-caps=-all"]


def _refused(
    folder: Path, data: Path, around: list[str] | None = None, port: int | None = None, said: str = "said.txt"
) -> str:
    """What a server says that may not start."""
    server = Server(folder, data=data, around=around or [], said=folder / said)
    if port is not None:
        server.use_port(port)
    with pytest.raises(NotStarted) as ended:
        server.start()
    server.kill()
    assert ended.value.code == 1, ended.value.said
    assert "Traceback" not in ended.value.said
    assert len(ended.value.said.strip().splitlines()) == 1, ended.value.said
    assert REMEDY.search(ended.value.said), f"it says no remedy: {ended.value.said}"
    return ended.value.said


def _file(folder: Path) -> Path:
    made = folder / "a file"
    made.write_text("something else")
    return made


def _in_circles(folder: Path) -> Path:
    made = folder / "circle"
    made.symlink_to(made)
    return made


def _with_folder(name: str) -> Callable[[Path], Path]:
    def made(folder: Path) -> Path:
        (folder / "data" / name).mkdir(parents=True)
        return folder / "data"

    return made


NO_FOLDER: dict[str, Callable[[Path], Path]] = {
    "a file": _file,
    "below a file": lambda folder: _file(folder) / "data",
    "a link in circles": _in_circles,
    "the home of nobody": lambda _: Path("~there-is-no-such-account/data"),
    "a name of 300 characters": lambda folder: folder / ("x" * 300),
    "a folder where the database should be": _with_folder(FILE_NAME),
    "a folder where the lock should be": _with_folder(LOCK_NAME),
    "a place that the system makes": lambda _: Path("/proc/leadline"),
}


@pytest.mark.parametrize("make", NO_FOLDER.values(), ids=NO_FOLDER)
def test_what_can_be_no_data_folder_is_refused_in_words(tmp_path: Path, make: Callable[[Path], Path]) -> None:
    data = make(tmp_path)
    assert str(data) in _refused(tmp_path, data)


def test_a_place_that_may_not_be_written_is_refused_in_words(tmp_path: Path) -> None:
    closed = tmp_path / "closed"
    closed.mkdir()
    closed.chmod(0o555)
    assert str(closed / "data") in _refused(tmp_path, closed / "data", _without_rights())


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can give a folder to another account")
def test_a_folder_of_another_account_is_refused_in_words(tmp_path: Path) -> None:
    data = tmp_path / "data"
    data.mkdir()
    os.chown(data, 65534, 65534)
    assert str(data) in _refused(tmp_path, data, _without_rights())


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can give a file to another account")
def test_a_database_that_may_not_be_written_is_refused_in_words(tmp_path: Path) -> None:
    with Server(tmp_path) as server:
        server.stop()
    file = tmp_path / "data" / FILE_NAME
    os.chown(file, 65534, 65534)
    file.chmod(0o444)
    assert str(file) in _refused(tmp_path, tmp_path / "data", _without_rights())


def test_a_read_only_disk_is_refused_in_words(tmp_path: Path) -> None:
    with small_disk(tmp_path) as disk:
        disk.make_read_only()
        said = _refused(tmp_path, disk.inside / "data", disk.around)
    assert str(disk.inside / "data") in said


def test_a_port_that_is_taken_is_refused_in_words(tmp_path: Path) -> None:
    with socket.create_server((HOST, 0)) as taken:
        said = _refused(tmp_path, tmp_path / "data", port=taken.getsockname()[1])
    assert "--port" in said
    assert not (tmp_path / "data").exists(), "a refused start leaves nothing behind"


def test_a_port_that_only_root_may_use_is_refused_in_words(tmp_path: Path) -> None:
    least = Path("/proc/sys/net/ipv4/ip_unprivileged_port_start")
    if not least.exists() or int(least.read_text()) <= 80:
        pytest.skip("every account of this machine may use port 80")
    assert "--port" in _refused(tmp_path, tmp_path / "data", _without_rights(), port=80)


def test_a_server_that_was_refused_starts_when_the_reason_is_gone(tmp_path: Path) -> None:
    data = _file(tmp_path)
    _refused(tmp_path, data)
    data.unlink()
    with Server(tmp_path, data=data) as server:
        assert server.runs


def test_a_second_server_is_refused_though_somebody_removed_the_lock_file(tmp_path: Path) -> None:
    with Server(tmp_path) as first:
        (first.data / LOCK_NAME).unlink()
        assert "in use by another Leadline" in _refused(tmp_path, first.data, said="second.txt")
        assert first.runs
