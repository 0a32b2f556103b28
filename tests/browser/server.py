"""A real `leadline` process for the browser tests, and its API. It opens no page and judges nothing."""

import json
import shutil
import signal
import subprocess
import sys
import urllib.request
from pathlib import Path
from typing import Any, Self

from tests.browser.samples import PROCEDURES, WARNED
from tests.ports import free_port

ROOT = Path(__file__).parents[2]
STARTED = "Leadline is at "


class Server:
    """`leadline serve` or `leadline demo` over one data folder: started, killed and started again at one address."""

    def __init__(self, folder: Path, command: str = "serve") -> None:
        """Args: folder: an empty folder; the data and, for `serve`, the procedures of `samples.py` go into it."""
        self.data = folder / "data"
        self._words = [command, "--data", str(self.data)]
        if command == "serve":
            procedures = folder / "procedures"
            procedures.mkdir()
            for name, text in PROCEDURES.items():
                (procedures / f"{name}.yaml").write_text(text, encoding="utf-8")
            self._words += ["--procedures", str(procedures)]
        self.port = free_port()
        self.address = f"http://127.0.0.1:{self.port}"
        self.program: tuple[str, ...] = ("app.cli",)
        self._process: subprocess.Popen[str] | None = None

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    def start(self) -> None:
        """Returns when it says that it listens. Raises RuntimeError with its output if it ends instead."""
        words = [sys.executable, "-m", *self.program, *self._words, "--port", str(self.port)]
        self._process = subprocess.Popen(
            words, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, encoding="utf-8"
        )
        assert self._process.stdout is not None
        said = []
        for line in self._process.stdout:
            if line.startswith(STARTED):
                return
            said.append(line)
        raise RuntimeError(f"the server ended before it listened: {''.join(said)}")

    def stop(self, how: signal.Signals = signal.SIGTERM) -> None:
        if self._process is None:
            return
        self._process.send_signal(how)
        self._process.communicate(timeout=10)
        self._process = None

    def kill(self) -> None:
        self.stop(signal.SIGKILL)

    def forget(self) -> None:
        """While it is down: take all data away, as whoever puts another folder in its place."""
        shutil.rmtree(self.data)

    # What other stations and programs do, by the API

    def ask(self, path: str, **sent: Any) -> Any:
        """The answer of the API: a GET, or with `sent` a POST of it as JSON. Raises HTTPError on a refusal."""
        body = json.dumps(sent).encode() if sent else None
        headers = {"Content-Type": "application/json", "Origin": self.address}
        request = urllib.request.Request(f"{self.address}/api{path}", body, headers)
        with urllib.request.urlopen(request, timeout=10) as answer:
            return json.load(answer)

    def run(self, procedure: str, running: str = "0:00:00") -> int:
        """A new rehearsal whose clock has been running for so long. The warnings of `WARNED` were read at its zero."""
        run = int(self.ask("/runs", procedure=procedure, kind="rehearsal", running=running)["run"])
        for step, person in WARNED.get(procedure, ()):
            self.order(run, "acknowledge", step=step, person=person, at="0:00:00")
        return run

    def mark(self, run: int, step: str, at: str | None = None, **values: float) -> None:
        self.ask(f"/runs/{run}/marks", step=step, at=at, values=values)

    def order(self, run: int, do: str, **said: str | float) -> None:
        self.ask(f"/runs/{run}/orders", do=do, **said)

    def marked(self, run: int) -> list[str]:
        """Each mark in the log, by its step."""
        return [each["body"]["step"] for each in self.events(run) if each["kind"] == "StepMarked"]

    def events(self, run: int) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = self.ask(f"/runs/{run}/events")
        return found
