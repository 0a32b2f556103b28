"""The disk as a power cut would leave it, from a trace: what was synced is there, what was not may be, or half of it.

The model is a disk that keeps its promises and no more: a file's content is safe after an fsync of the file, its
being there after one of its folder; until then each write may be missing, or torn between sectors.
"""

import random
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from app.store.engine import FILE_NAME
from tests.harm.traced import Call

SECTOR = 512
"""What a disk writes whole (common practice; SQLite's atomic commit paper assumes no more)."""
KEPT = (FILE_NAME, f"{FILE_NAME}-wal", f"{FILE_NAME}-journal")


@dataclass(slots=True)
class _File:
    safe: bytearray = field(default_factory=bytearray)
    waiting: list[tuple[int, bytes | None]] = field(default_factory=list)
    """(offset, data), or (length, None) for a cut to that length."""


class Platter:
    """The files of one data folder, as `before` has them from when nothing was running."""

    def __init__(self, folder: Path, before: Path) -> None:
        self._folder = folder
        there = [name for name in KEPT if (before / name).exists()]
        self._files = {name: _File(bytearray((before / name).read_bytes())) for name in there}
        self._names = self._safe_names = set(there)

    def take(self, call: Call) -> None:
        """Let a call of the trace happen."""
        if call.name == "unlink":
            self._names = self._names - {Path(call.data.decode()).name}
        elif call.is_sync and Path(call.file) == self._folder:
            self._safe_names = self._names
        elif Path(call.file).parent == self._folder and Path(call.file).name in KEPT:
            self._on(Path(call.file).name, call)

    def _on(self, name: str, call: Call) -> None:
        if call.name == "openat":
            if name not in self._names:
                self._files[name] = _File()
            self._names = self._names | {name}
        elif call.is_write:
            self._files[name].waiting.append((call.numbers[1], call.data))
        elif call.name == "ftruncate":
            self._files[name].waiting.append((call.numbers[1], None))
        elif call.is_sync:
            file = self._files[name]
            for change in file.waiting:
                _apply(file.safe, *change)
            file.waiting.clear()

    def cut(self, into: Path, pick: random.Random) -> None:
        """Write the files as they might lie there if the power went now."""
        for name in sorted(self._safe_names | (self._names if pick.random() < 0.5 else set())):
            file = self._files[name]
            content = bytearray(file.safe)
            for change in _some(file.waiting, pick):
                _apply(content, *change)
            (into / name).write_bytes(content)


def _some(waiting: Iterable[tuple[int, bytes | None]], pick: random.Random) -> Iterable[tuple[int, bytes | None]]:
    """Of the writes that were not synced any, in any order; each whole or torn."""
    left = [each for each in waiting if pick.random() < 0.7]
    pick.shuffle(left)
    for offset, data in left:
        torn = data is not None and pick.random() < 0.3
        yield offset, data[: pick.randrange(0, len(data) // SECTOR + 1) * SECTOR] if data is not None and torn else data


def _apply(content: bytearray, offset: int, data: bytes | None) -> None:
    if data is None:
        del content[offset:]
        return
    if len(content) < offset:
        content.extend(bytes(offset - len(content)))
    content[offset : offset + len(data)] = data
