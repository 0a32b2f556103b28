"""What an address carries: numbers in digits, and nothing that a kind reader would take for some. It knows no run."""

import re
from typing import Annotated

from pydantic import BeforeValidator

_PLAIN = re.compile(r"-?[0-9]{1,400}")


def _plain(said: object) -> object:
    """pydantic also reads ``1_0``, ``+1`` and a 9 behind a tab: one run would then have many addresses."""
    if isinstance(said, str) and not _PLAIN.fullmatch(said):
        raise ValueError("write a whole number in digits")
    return said


PlainInt = Annotated[int, BeforeValidator(_plain)]
RunId = PlainInt

STREAMS = re.compile(r"/api/(live|runs/[^/]+/live)\n?")  # A route's own pattern lets the newline by.
"""Paths whose answer does not end by itself."""
