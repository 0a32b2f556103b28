"""Figures on backups taken while a real writer hammers: each is checked, restored, and held against what was answered.

Beside it, as the control, plain copies of the file: how often they miss what was answered before they began.
"""

import shutil
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from app.store.backup import fault_of
from app.store.engine import FILE_NAME
from tests.served import ROOT, called

AT_LEAST = 200
"""So many keys are answered between one try and the next, so that each has something new to miss."""

AT_ONE_LOG = 5
"""Then a new log is begun: the writer never rests, and the longer a log is, the longer a backup of it takes."""


class _Writer:
    """A process that appends for ever, and the keys that it was answered for so far."""

    def __init__(self, process: "subprocess.Popen[str]") -> None:
        self._process = process
        self._keys: list[str] = []
        self._reading = threading.Thread(target=self._read)
        self._reading.start()

    def _read(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            if line.endswith("\n") and not line.startswith("run "):
                self._keys.append(line.strip())

    def answered(self) -> frozenset[str]:
        """The keys that were answered by now."""
        return frozenset(self._keys[: len(self._keys)])

    def go_on(self) -> None:
        """Wait until more were answered."""
        until, deadline = len(self._keys) + AT_LEAST, time.monotonic() + 60
        while len(self._keys) < until:
            if self._process.poll() is not None or time.monotonic() > deadline:
                raise AssertionError("the writer stopped writing")
            time.sleep(0.005)

    def end(self) -> None:
        self._process.kill()
        self._reading.join()


@contextmanager
def _writing(data: Path) -> Iterator[_Writer]:
    words = [sys.executable, "-m", "tests.store.appender", str(data)]
    with subprocess.Popen(words, cwd=ROOT, stdout=subprocess.PIPE, text=True) as process:
        writer = _Writer(process)
        try:
            writer.go_on()
            yield writer
        finally:
            writer.end()


def backups_under_load(tries: int = 25) -> dict[str, Any]:
    """Take backups, verify and restore each; copy the file plainly as often.

    Returns:
        Figures, and what was broken: a key answered before a backup began that its restored folder does not hold.
    """
    broken: list[str] = []
    answered, plain, took = 0, 0, 0.0
    for first in range(1, tries + 1, AT_ONE_LOG):
        with tempfile.TemporaryDirectory() as scratch, _writing(Path(scratch) / "data") as writer:
            folder = Path(scratch)
            for number in range(first, min(first + AT_ONE_LOG, tries + 1)):
                writer.go_on()
                before, began = writer.answered(), time.monotonic()
                broken += _one_backup(folder, number, before)
                took, answered = max(took, time.monotonic() - began), max(answered, len(before))
                writer.go_on()
                plain += _plain_copy_is_bad(folder, number, writer.answered())
    if tries and not plain:
        broken.append("no plain copy missed anything: this load shows nothing of backups")
    return {
        "backups": tries,
        "restored and checked": tries - len(broken),
        "answered before one, at most": answered,
        "longest, with its check and restore, s": round(took, 2),
        "plain copies that missed something or were damaged": f"{plain} of {tries}",
        "broken": broken,
    }


def _one_backup(folder: Path, number: int, before: frozenset[str]) -> list[str]:
    """Back up, restore and verify by the commands. Returns what is wrong."""
    file, new = folder / f"backup-{number}", folder / f"restored-{number}"
    for words in (("backup", file, "--data", "data"), ("restore", file, "--data", new), ("verify", "--data", new)):
        said = called(*words, folder=folder)
        if said.returncode:
            return [f"backup {number}: leadline {words[0]} ended with {said.returncode}: {said.stderr}"]
    lost = before - _keys(new / FILE_NAME)
    return [f"backup {number}: {len(lost)} of {len(before)} answered keys are not in it"] if lost else []


def _keys(file: Path) -> frozenset[str]:
    with closing(sqlite3.connect(file)) as raw:
        return frozenset(key for (key,) in raw.execute("SELECT DISTINCT key FROM event"))


def _plain_copy_is_bad(folder: Path, number: int, before: frozenset[str]) -> bool:
    """Whether a copy of the file, as `cp` makes it, misses answered keys or can't be read."""
    copy = folder / f"plain-{number}"
    shutil.copyfile(folder / "data" / FILE_NAME, copy)
    try:
        with closing(sqlite3.connect(copy)) as raw:
            damaged = fault_of(raw) is not None
        return damaged or bool(before - _keys(copy))
    except sqlite3.Error:
        return True
