"""Runs the commands: in a process of its own where a stream or a signal matters, else called here."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import chdir, contextmanager, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from io import StringIO
from pathlib import Path

import httpx

from app.cli import cli

LEADLINE = (sys.executable, "-m", "app.cli")
ROOT = Path(__file__).parents[1]
WITHIN_S = 30


def environment() -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"}


def called(*words: str | Path | int, folder: Path) -> subprocess.CompletedProcess[str]:
    """Call a command in this process, in `folder`: to start one takes seconds on a small machine."""
    out, err, code = StringIO(), StringIO(), 0
    before = signal.getsignal(signal.SIGTERM)
    with chdir(folder), redirect_stdout(out), redirect_stderr(err):
        try:
            cli([str(word) for word in words], prog_name="leadline")
        except SystemExit as ended:
            code = ended.code if isinstance(ended.code, int) else int(ended.code is not None)
        finally:
            signal.signal(signal.SIGTERM, before)
    return subprocess.CompletedProcess([str(word) for word in words], code, out.getvalue(), err.getvalue())


def leadline(*words: str | Path | int, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run a command to its end in `folder`, in a process of its own."""
    said = [*LEADLINE, *map(str, words)]
    return subprocess.run(
        said, cwd=folder, env=environment(), capture_output=True, text=True, timeout=WITHIN_S, check=False
    )


@dataclass(frozen=True, slots=True)
class Served:
    """A server that has said where it is."""

    process: subprocess.Popen[str]
    address: str
    said: str

    def stop(self, by: signal.Signals = signal.SIGTERM) -> float:
        """Signal it and wait for its end. Returns how many seconds that took."""
        began = time.monotonic()
        self.process.send_signal(by)
        self.process.wait(WITHIN_S)
        return time.monotonic() - began


@contextmanager
def served(words: Sequence[str | Path], folder: Path) -> Iterator[Served]:
    """The command, once it has printed an address; killed at the end if it is still there."""
    said = [*LEADLINE, *map(str, words)]
    process = subprocess.Popen(
        said, cwd=folder, env=environment(), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    try:
        yield Served(process, *_address(process))
    finally:
        if process.poll() is None:
            process.kill()
        process.communicate()


def _address(process: subprocess.Popen[str]) -> tuple[str, str]:
    assert process.stdout is not None
    said = ""
    for line in process.stdout:
        said += line
        if "http://" in line:
            address = line[line.index("http://") :].strip()
            httpx.get(address, timeout=WITHIN_S)
            return address, said
    raise AssertionError(f"no address: {said}{process.stderr.read() if process.stderr else ''}")
