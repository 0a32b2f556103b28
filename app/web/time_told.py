"""The server's clocks as messages and answers tell them. It sets no clock and knows no run."""

import os
from functools import cache
from typing import Any

from app.core.times import instant
from app.store.clock import ServerClock


@cache
def server_name() -> str:
    """Another text for each process of the server: its steady clock is no other's."""
    return os.urandom(4).hex()


class TimeTold:
    """Of one clock. A page knows by it how old a message is, whatever its own wall clock shows."""

    def __init__(self, clock: ServerClock) -> None:
        self._clock = clock

    def steady(self, monotonic_s: float | None = None) -> dict[str, Any]:
        """Which server, and what its steady clock shows in milliseconds, now or at a moment of it in seconds."""
        now_s = self._clock.monotonic() if monotonic_s is None else monotonic_s
        return {"server": server_name(), "steady_ms": round(now_s * 1000)}

    def now(self, monotonic_s: float | None = None) -> dict[str, Any]:
        """The same, and its UTC."""
        return self.steady(monotonic_s) | {"utc": instant(self._clock.utc())}
