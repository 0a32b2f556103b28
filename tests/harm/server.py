"""Real server processes: started over one data folder, killed, stopped, and started again at one address.

It asks them nothing but whether they listen, and judges nothing.
"""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Self

from app.store.engine import FILE_NAME
from app.store.owner import LOCK_NAME
from tests.harm.spent import Took, in_line, since
from tests.ports import free_port

ROOT = Path(__file__).parents[2]
HOST = "127.0.0.1"
STARTED = "Leadline is at "
SERVE = ("app.cli", "serve")
"""The module that is run and its first words; a test's own start program takes the same options after its own."""
WITHIN_S = 60.0


class NotStarted(Exception):
    """The server ended before it listened; ``str()`` is what it had said, `code` its exit code, `took` its life."""

    def __init__(self, said: str, code: int | None, took: Took) -> None:
        super().__init__(said)
        self.said = said
        self.code = code
        self.took = took


class Server:
    """One server. Its output goes to a file, which a full pipe could otherwise stop it with."""

    def __init__(
        self,
        folder: Path,
        procedures: Mapping[str, str] | None = None,
        program: Sequence[str] = SERVE,
        around: Sequence[str] = (),
        environment: Mapping[str, str] | None = None,
        data: Path | None = None,
        said: Path | None = None,
    ) -> None:
        """Put the procedures into the folder; start nothing yet.

        Args:
            procedures: texts by name; None takes the samples.
            around: words before the interpreter, such as a tracer's.
            data, said: the data folder and the file of its output as the server sees them, if not in `folder`.
        """
        self.folder = folder
        self.data = data or folder / "data"
        self.said_file = said or folder / "said.txt"
        self._environment = {**os.environ, "PYTHONPATH": str(ROOT), **(environment or {})}
        self._words = [*around, sys.executable, "-m", *program, "--data", str(self.data)]
        if procedures is not None:
            self._words += ["--procedures", str(_written(folder / "procedures", procedures))]
        self.use_port(free_port())
        self.process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.kill()

    def start(self) -> float:
        """Returns the seconds until it says that it listens. Raises NotStarted if it ends instead."""
        began = time.monotonic()
        self._open()
        assert self.process is not None
        while STARTED not in self.said():
            if os.waitid(os.P_PID, self.process.pid, os.WEXITED | os.WNOHANG | os.WNOWAIT) is not None:
                took = since(began, {}, self.process.pid)
                raise NotStarted(self.said(), self.process.wait(), took)
            if time.monotonic() > began + WITHIN_S:
                took = since(began, {}, self.process.pid)
                self.kill()
                raise NotStarted(f"silent for {WITHIN_S:.0f} s: {self.said()}", None, took)
            time.sleep(0.01)
        return time.monotonic() - began

    def use_port(self, port: int) -> None:
        """From the next start on."""
        self.port = port
        self.address = f"http://{HOST}:{port}"

    def _open(self) -> None:
        with self.said_file.open("wb") as out:
            self.process = subprocess.Popen(
                [*self._words, "--port", str(self.port)],
                cwd=ROOT,
                env=self._environment,
                stdout=out,
                stderr=out,
                stdin=subprocess.DEVNULL,
            )

    def said(self) -> str:
        """All that it printed since it was last started."""
        return self.said_file.read_text(encoding="utf-8", errors="replace")

    def pid(self) -> int:
        """Of the server itself, as its lock file has it: the process that we started may be a tracer."""
        return int(json.loads((self.data / LOCK_NAME).read_text())["pid"])

    def kill(self) -> None:
        """SIGKILL, if it is there."""
        if self.process is not None and self.process.poll() is None:
            self.process.kill()
            self.process.wait(WITHIN_S)

    def stop(self, how: signal.Signals = signal.SIGTERM) -> Took:
        """Signal it and wait for its end."""
        assert self.process is not None
        began, before = time.monotonic(), in_line(self.process.pid)
        self.process.send_signal(how)
        os.waitid(os.P_PID, self.process.pid, os.WEXITED | os.WNOWAIT)
        took = since(began, before, self.process.pid)
        self.process.wait(WITHIN_S)
        return took

    @property
    def runs(self) -> bool:
        return self.process is not None and self.process.poll() is None

    def memory_mb(self, what: str = "VmHWM") -> float:
        """Resident memory at its highest, from /proc (proc(5)); `VmRSS` is that of now. 0 where there is no /proc."""
        assert self.process is not None
        status = Path(f"/proc/{self.process.pid}/status")
        lines = status.read_text().splitlines() if status.exists() else []
        return next((int(line.split()[1]) / 1024 for line in lines if line.startswith(what)), 0.0)


def _written(folder: Path, texts: Mapping[str, str]) -> Path:
    folder.mkdir(exist_ok=True)
    for name, text in texts.items():
        (folder / f"{name}.yaml").write_text(text, encoding="utf-8")
    return folder


@contextmanager
def scratch() -> Iterator[Path]:
    """An empty folder on the disk that temporary files are on."""
    import tempfile

    with tempfile.TemporaryDirectory(prefix="leadline-harm-") as name:
        yield Path(name)


def database(data: Path) -> Path:
    return data / FILE_NAME
