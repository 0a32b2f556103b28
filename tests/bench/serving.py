"""Starts and stops the servers that the bench asks: Leadline itself, and the bare one beside it."""

import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.bench.wire import HOST, Line
from tests.ports import free_port

HERE = Path(__file__).parent
LEADLINE = str(Path(sys.executable).with_name("leadline"))


@dataclass(frozen=True, slots=True)
class Served:
    """A server that answers. `ready_s` is from the start of its process to its first answer."""

    port: int
    pid: int
    ready_s: float

    def memory_mb(self) -> float:
        """Resident memory, from /proc; 0 where there is none."""
        return _memory_mb(self.pid)

    def has_loaded(self, library: str) -> bool:
        """Whether a file of this name is mapped into its memory, from /proc; False where there is none."""
        maps = Path(f"/proc/{self.pid}/maps")
        return maps.exists() and library in maps.read_text()

    def busy_s(self) -> float:
        """Seconds of processor time of all its threads so far, from /proc; 0 where there is none."""
        each = [path.read_text().split()[0] for path in Path(f"/proc/{self.pid}/task").glob("*/schedstat")]
        return sum(int(nanoseconds) for nanoseconds in each) / 1e9


def _memory_mb(pid: int) -> float:
    status = Path(f"/proc/{pid}/status")
    lines = status.read_text().splitlines() if status.exists() else []
    return next((int(line.split()[1]) / 1024 for line in lines if line.startswith("VmRSS")), 0.0)


@contextmanager
def folder() -> Iterator[Path]:
    """An empty folder on the disk that temporary files are on."""
    with tempfile.TemporaryDirectory(prefix="leadline-bench-") as name:
        yield Path(name)


@contextmanager
def leadline(
    files: dict[str, str] | None = None,
    preload: Path | None = None,
    data: Path | None = None,
    database: str | None = None,
) -> Iterator[Served]:
    """`leadline serve` on a fresh data folder, or on `data`, or with a `database` of PostgreSQL.

    Args:
        files: procedure texts by file name; None loads the samples, as a newcomer's first start does.
        preload: a library put before the system's own, to slow the disk.
    """
    with folder() as made:
        port = free_port()
        command = [LEADLINE, "serve", "--data", str(data or made / "data"), "--port", str(port)]
        command += ["--database", database] if database else []
        if files is not None:
            (made / "files").mkdir()
            for name, text in files.items():
                (made / "files" / name).write_text(text)
            command += ["--procedures", str(made / "files")]
        with _running(command, port, made, preload) as served:
            yield served


@contextmanager
def bare() -> Iterator[Served]:
    """The reference server of `tests.bench.bare`."""
    with folder() as made:
        port = free_port()
        command = [sys.executable, "-m", "tests.bench.bare", str(port), str(made / "bare.sqlite3")]
        with _running(command, port, HERE.parents[1], None) as served:
            yield served


@contextmanager
def _running(command: Sequence[str], port: int, where: Path, preload: Path | None) -> Iterator[Served]:
    environment = os.environ | ({"LD_PRELOAD": str(preload)} if preload else {})
    environment.pop("PYTHONDONTWRITEBYTECODE", None)  # What is installed has been compiled before.
    began = time.perf_counter()
    with subprocess.Popen(command, cwd=where, env=environment, stdout=subprocess.DEVNULL) as process:
        try:
            _wait_for(port, process)
            yield Served(port, process.pid, time.perf_counter() - began)
        finally:
            process.send_signal(signal.SIGTERM)
            try:
                process.wait(10)
            except subprocess.TimeoutExpired:
                process.kill()


def _wait_for(port: int, process: "subprocess.Popen[bytes]") -> None:
    """Until it accepts a connection: Leadline listens only when all else is ready to answer."""
    for _ in range(4000):
        if process.poll() is not None:
            raise RuntimeError(f"the server ended at once, with {process.returncode}")
        with socket.socket() as probe:
            if probe.connect_ex((HOST, port)) == 0 and _answers(probe):
                return
        time.sleep(0.005)
    raise RuntimeError("the server did not answer within 20 s")


def _answers(probe: socket.socket) -> bool:
    """The socket is bound early, so a connection alone proves nothing: ask for the first page."""
    probe.settimeout(20)
    probe.sendall(f"GET / HTTP/1.1\r\nHost: {HOST}\r\nConnection: close\r\n\r\n".encode())
    return probe.recv(12).startswith(b"HTTP/1.1 ")


def slow_disk(into: Path) -> Path | None:
    """A library that adds 5 ms to each fsync and fdatasync; None where there is no C compiler or no LD_PRELOAD."""
    compiler = shutil.which("cc")
    if compiler is None or not sys.platform.startswith("linux"):
        return None
    library = into / "slow_disk.so"
    made = subprocess.run(
        [compiler, "-shared", "-fPIC", "-o", str(library), str(HERE / "slow_disk.c"), "-ldl"],
        capture_output=True,
        check=False,
    )
    return library if made.returncode == 0 else None


async def start_run(line: Line, running: str = "1:00:00", procedure: str = "bench") -> int:
    """A run whose clock has been running for so long."""
    found = await line.json("POST", "/api/runs", {"procedure": procedure, "running": running, "kind": "rehearsal"})
    return int(found["run"])
