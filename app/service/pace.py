"""A steady clock that keeps pace with another machine's. It steps no clock and logs nothing."""

from collections.abc import Callable

from app.store.clock import steady_clock

MOST_SLEWED = 0.0005
"""Seconds per second by which it may be made quicker or slower: RFC 5905, MAXFREQ, 500 PPM (from memory)."""
WITHIN_S = 20.0
"""A difference is made good over so long, so that what is uncertain in how it was measured does not shake elapsed.
Our own choice: the clock of the database is measured every 10 s."""


class Pace:
    """This machine's steady clock, made quicker or slower until it goes as the one that it follows.

    Several servers of one database follow its clock, so that elapsed is the same at each after hours, though no two
    machines' clocks go alike. It never steps, and never goes back. Safe to read from several threads.
    """

    def __init__(self, steady: Callable[[], float] = steady_clock) -> None:
        self._steady = steady
        now_s = steady()
        self._line = (now_s, now_s, 1.0)

    def read(self) -> float:
        """Seconds, as `steady_clock`."""
        since_s, shown_s, rate = self._line
        return shown_s + (self._steady() - since_s) * rate

    def follow(self, behind_s: float) -> None:
        """`behind_s`: by how much it is behind the clock that it is to follow, now. To be called every second or so."""
        since_s, shown_s, rate = self._line
        now_s = self._steady()
        slewed = max(-MOST_SLEWED, min(MOST_SLEWED, behind_s / WITHIN_S))
        self._line = (now_s, shown_s + (now_s - since_s) * rate, 1.0 + slewed)
