"""How often somebody may try to sign in: buckets of tries that fill again with time. It knows no password.

The right person must still get in while somebody else guesses. So tries are counted by station first: a station that
has used its own up is told to wait, and its further tries cost the account nothing. The account's bucket is larger than
one station's; a station without wrong tries of its own is let through even when that is empty; and the last few tries
of a station are for browsers that were once signed in as that person (the idea of device cookies: OWASP, *Slow Down
Online Guessing Attacks with Device Cookies*, from memory). Those have a bucket of their own too, so that neither
strangers nor known browsers of other people at that station use them up. What a known browser tries is taken from the
station as well: however it is mixed, one station has STATION.tries at an account.
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
DEVICE = Size("device", 3, 6)
"""Common practice in kind, our own choice in number: 14,400 guesses a day for a station is nothing against argon2id
and eight characters, and somebody who mistyped waits for seconds, not minutes. DEVICE.tries of a station's are left by
those whose browser is not known."""

_ALMOST = 1e-9
"""Fractions of a try do not add up to a whole one exactly."""


@dataclass(slots=True)
class _Bucket:
    left: float
    at_s: float


@dataclass(frozen=True, slots=True)
class Taken:
    """`wait_s`: after so many seconds a try may be made; 0 if one was taken now. `parts`: of which bucket how much."""

    wait_s: float
    parts: tuple[tuple[Size, str, float], ...] = ()


class Throttle:
    """Used from one thread at a time."""

    def __init__(self, monotonic: Callable[[], float]) -> None:
        self._now = monotonic
        self._buckets: dict[Size, OrderedDict[str, _Bucket]] = {}

    def take(self, station: str, account: str, device: str | None) -> Taken:
        """Take a try, if one may be made now.

        A station that made no wrong try of late is let through though others have used the account's up.

        Args:
            station: a network address. account: a name as it was typed, folded. device: what stands for the browsers
                that were signed in as this account before, of one station, else None.
        """
        own = self._bucket(DEVICE, device) if device else None
        if own is None or own.left < 1 - _ALMOST:
            wait_s = self._wait_s(self._bucket(STATION, station), account, own is not None)
            if wait_s:
                return Taken(wait_s if own is None else min(wait_s, (1 - own.left) * DEVICE.each_s))
        of = ((DEVICE, device),) if device else ()
        return Taken(0, tuple(self._spent(size, name) for size, name in (*of, (STATION, station), (ACCOUNT, account))))

    def _wait_s(self, common: _Bucket, account: str, known: bool) -> float:
        """Until a try may be taken from the station's, 0 for now."""
        needed = 1 if known else 1 + DEVICE.tries
        if common.left < needed - _ALMOST:
            return (needed - common.left) * STATION.each_s
        if common.left < STATION.tries - _ALMOST:
            # Looked at last, and not by those who are told to wait: their tries cost the account nothing.
            second = self._bucket(ACCOUNT, account)
            if second.left < 1 - _ALMOST:
                return (1 - second.left) * ACCOUNT.each_s
        return 0

    def _spent(self, size: Size, of: str) -> tuple[Size, str, float]:
        bucket = self._bucket(size, of)
        part = max(0.0, min(1.0, bucket.left))
        bucket.left -= part
        return size, of, part

    def give_back(self, taken: Taken) -> None:
        """Of a try that was right, or never looked at: only wrong ones are counted."""
        for size, of, part in taken.parts:
            bucket = self._buckets.get(size, OrderedDict()).get(of)
            if bucket is not None:
                bucket.left = min(size.tries, bucket.left + part)

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
