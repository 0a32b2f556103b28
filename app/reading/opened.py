"""The bytes of a file on disk, no more than it takes to see that it is too large. It makes nothing of them."""

from pathlib import Path

MOST_OPENED = 16 * 1024 * 1024
"""Bytes. Every reader refuses a file by its size long before, and says how large it is; up to here that is right."""


def beginning(path: Path) -> bytes:
    """The whole file, or as much of it as shows that it is too large. Raises OSError: it can't be read."""
    with path.open("rb") as file:
        return file.read(MOST_OPENED)
