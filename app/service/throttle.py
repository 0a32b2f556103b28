"""How often somebody may try to sign in: buckets of tries that fill again with time. It knows no password.

The right person must still get in while somebody else guesses. So tries are counted by station first: a station that
has used its own up is told to wait, and its further tries cost the account nothing. The account's bucket is larger than
one station's, and a browser that was once signed in as that person has a bucket of its own (the idea of device cookies:
OWASP, *Slow Down Online Guessing Attacks with Device Cookies*, from memory).
"""

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass

MOST_KNOWN = 10_000
"""Buckets that are remembered; the one that was used longest ago is forgotten first."""


@dataclass(frozen=True, slots=True)
class Size:
    """`tries` at once, then one more every `each_s` seconds."""

    tries: int
    each_s: float


STATION = Size(10, 6)
ACCOUNT = Size(40, 3)
DEVICE = Size(10, 6)
"""Common practice in kind, our own choice in number: 14,400 guesses a day for a station is nothing against argon2id
and eight characters, and somebody who mistyped waits for seconds, not minutes."""


@dataclass(slots=True)
class _Bucket:
    left: float
    at_s: float


class Throttle:
    """Used from one thread at a time."""

    def __init__(self, monotonic: Callable[[], float]) -> None:
        self._now = monotonic
        self._buckets: OrderedDict[tuple[str, str], _Bucket] = OrderedDict()

    def wait_s(self, station: str, account: str, device: str | None) -> float:
        """Take a try. 0 if it may be made now; else after how many seconds, and none was taken.

        Args:
            station: an address. account: a name as it was typed, folded. device: of a browser that was signed in as
                this account before, else None.
        """
        wanted = (
            [("device", device, DEVICE)] if device else [("station", station, STATION), ("account", account, ACCOUNT)]
        )
        found = [(self._bucket(kind, of, size), size) for kind, of, size in wanted]
        waits = [(1 - bucket.left) * size.each_s for bucket, size in found if bucket.left < 1 - 1e-9]
        if waits:
            return max(waits)
        for bucket, _ in found:
            bucket.left -= 1
        return 0

    def succeeded(self, station: str, account: str, device: str | None) -> None:
        """Give the try back: only wrong ones are counted."""
        keys = [("device", device)] if device else [("station", station), ("account", account)]
        for kind, of in keys:
            bucket = self._buckets.get((kind, of or ""))
            if bucket is not None:
                bucket.left += 1

    def _bucket(self, kind: str, of: str, size: Size) -> _Bucket:
        now = self._now()
        bucket = self._buckets.setdefault((kind, of), _Bucket(size.tries, now))
        self._buckets.move_to_end((kind, of))
        bucket.left = min(size.tries, bucket.left + (now - bucket.at_s) / size.each_s)
        bucket.at_s = now
        while len(self._buckets) > MOST_KNOWN:
            self._buckets.popitem(last=False)
        return bucket
