"""How often somebody may try to sign in: buckets of tries that fill again with time. It knows no password.

The right person must still get in while somebody else guesses. So tries are counted by station first: a station that
has used its own up is told to wait, and its further tries cost the account nothing. The account's bucket is larger than
one station's; a station without wrong tries of its own is let through even when that is empty; and a browser that was
once signed in as that person has a bucket of its own (the idea of device cookies: OWASP, *Slow Down Online Guessing
Attacks with Device Cookies*, from memory).
"""

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass

MOST_KNOWN = 10_000
"""Buckets of a kind that are remembered; the one that was used longest ago is forgotten first."""


@dataclass(frozen=True, slots=True)
class Size:
    """`tries` of a kind at once, then one more every `each_s` seconds."""

    kind: str
    tries: int
    each_s: float


STATION = Size("station", 10, 6)
ACCOUNT = Size("account", 40, 3)
DEVICE = Size("device", 10, 6)
"""Common practice in kind, our own choice in number: 14,400 guesses a day for a station is nothing against argon2id
and eight characters, and somebody who mistyped waits for seconds, not minutes."""

_ALMOST = 1e-9
"""Fractions of a try do not add up to a whole one exactly."""


@dataclass(slots=True)
class _Bucket:
    left: float
    at_s: float


class Throttle:
    """Used from one thread at a time."""

    def __init__(self, monotonic: Callable[[], float]) -> None:
        self._now = monotonic
        self._buckets: dict[Size, OrderedDict[str, _Bucket]] = {}

    def wait_s(self, station: str, account: str, device: str | None) -> float:
        """Take a try. 0 if it may be made now; else after how many seconds, and none was taken.

        A station that made no wrong try of late is let through though others have used the account's up.

        Args:
            station: a network address. account: a name as it was typed, folded. device: of a browser that was signed in
                as this account before, else None.
        """
        first = self._bucket(DEVICE, device) if device else self._bucket(STATION, station)
        size = DEVICE if device else STATION
        if first.left < 1 - _ALMOST:
            return (1 - first.left) * size.each_s
        if not device and first.left < size.tries - _ALMOST:
            # Looked at last, and not by those who are told to wait: their tries cost the account nothing.
            second = self._bucket(ACCOUNT, account)
            if second.left < 1 - _ALMOST:
                return (1 - second.left) * ACCOUNT.each_s
        if not device:
            second = self._bucket(ACCOUNT, account)
            second.left = max(0, second.left - 1)
        first.left -= 1
        return 0

    def succeeded(self, station: str, account: str, device: str | None) -> None:
        """Give the try back: only wrong ones are counted."""
        for size, of in ((DEVICE, device),) if device else ((STATION, station), (ACCOUNT, account)):
            bucket = self._buckets.get(size, OrderedDict()).get(of or "")
            if bucket is not None:
                bucket.left += 1

    def _bucket(self, size: Size, of: str) -> _Bucket:
        now = self._now()
        kind = self._buckets.setdefault(size, OrderedDict())
        bucket = kind.setdefault(of, _Bucket(size.tries, now))
        kind.move_to_end(of)
        bucket.left = min(size.tries, bucket.left + (now - bucket.at_s) / size.each_s)
        bucket.at_s = now
        while len(kind) > MOST_KNOWN:
            kind.popitem(last=False)
        return bucket
