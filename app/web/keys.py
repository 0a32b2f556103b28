"""Keys for presses: UUID version 7 (RFC 9562, 5.7). The only place in the shell that draws one."""

import os
import time
import uuid
from collections.abc import Callable

NewKey = Callable[[], str]


def new_key() -> str:
    """48 bits of Unix milliseconds, then version, variant and 74 random bits."""
    milliseconds = time.time_ns() // 1_000_000
    bits = (milliseconds & (1 << 48) - 1) << 80 | int.from_bytes(os.urandom(10), "big")
    bits = bits & ~(0xF << 76) | 7 << 76
    bits = bits & ~(0x3 << 62) | 2 << 62
    return str(uuid.UUID(int=bits))


def read_key(text: str) -> str:
    """The canonical form of any UUID.

    Raises:
        ValueError: it is not one.
    """
    if len(text) > 45:
        raise ValueError("not a UUID")
    return str(uuid.UUID(text))
