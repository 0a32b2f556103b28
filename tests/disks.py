"""A small disk for a test, and commands that run where it is seen. No test of its own."""

import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.harm.small_disk import NoSmallDisk, SmallDisk
from tests.served import LEADLINE, environment


@contextmanager
def small_disk(folder: Path) -> Iterator[SmallDisk]:
    """A new one at ``folder/disk``. Where none can be had the test is skipped, and says why."""
    at = folder / "disk"
    at.mkdir()
    try:
        disk = SmallDisk(at)
    except NoSmallDisk as none:
        pytest.skip(str(none))
    with disk:
        yield disk


def on(disk: SmallDisk, *words: str | Path | int) -> subprocess.CompletedProcess[str]:
    """Run a command to its end with the disk in its place."""
    said = [*disk.around, *LEADLINE, *map(str, words)]
    return subprocess.run(
        said, env=environment(), cwd=disk.inside.parent, capture_output=True, text=True, timeout=60, check=False
    )
