"""The outlook of each run: made when it is asked for, kept while it is fresh, and never in the way of a mark.

One outlook of a run is made at a time; whoever asks meanwhile gets that one. A run whose log moves faster than outlooks
are made is told the newest there is, so that at most one part in four of a processor goes into looking ahead.
"""

import time
from collections import OrderedDict
from dataclasses import dataclass, field
from threading import Lock

import numpy as np

from app.core.forecast import Draws
from app.core.outlook import Comparison, Outlook, compared, outlook
from app.core.situation import Situation
from app.core.what_if import Supposed

FRESH_S = 10
"""An outlook is made anew at least so often while somebody looks."""
REST = 3
"""After one that took so long, the next of the run begins no sooner than this many times as long later."""
ASKED_S = 60
"""A run that nobody asked about for so long is looked ahead for no more."""
PAST_KEPT = 8
"""Outlooks of past moments that are kept, of all runs together."""


def draw(situation: Situation) -> Draws:
    """The draws of a situation. The seed is the revision's, so the same state has the same forecast everywhere."""
    seed = int(situation.state.revision[:16] or "0", 16)
    return Draws(situation, np.random.Generator(np.random.SFC64(seed)))


@dataclass(slots=True)
class _Kept:
    """What is known of one run. `making` is held while an outlook of it is made."""

    making: Lock = field(default_factory=Lock)
    newest: Outlook | None = None
    rested: float = 0.0
    asked: float = 0.0


class Outlooks:
    """Safe to ask from several threads. It is asked for one process; times are of the monotonic clock."""

    def __init__(self) -> None:
        self._kept: dict[int, _Kept] = {}
        self._past: OrderedDict[tuple[int, int, int], Outlook] = OrderedDict()
        self._lock = Lock()

    def now(self, run: int, situation: Situation, asked: bool = True) -> Outlook:
        """The outlook of a run now: of `situation`, or a fresh one, or the newest while a rest is due.

        `asked`: somebody wants to see it, so that it is worth keeping fresh.
        """
        kept = self._of(run)
        if asked:
            kept.asked = time.monotonic()
        return self._made(kept, situation)

    def newest(self, run: int) -> Outlook | None:
        """The last one that was made, however old. It makes none."""
        return self._of(run).newest

    def is_due(self, run: int, situation: Situation) -> bool:
        """Whether somebody asked about this run lately and the newest is not fresh."""
        kept = self._of(run)
        newest, wanted = kept.newest, time.monotonic() - kept.asked < ASKED_S
        return newest is not None and wanted and not _is_fresh(newest, situation)

    def past(self, run: int, situation: Situation) -> Outlook:
        """The outlook as it stood at a moment that has passed."""
        key = (run, situation.at_s, situation.state.seq)
        with self._lock:
            found = self._past.get(key)
        if found is None:
            found = outlook(situation, draw)
            with self._lock:
                self._past[key] = found
                while len(self._past) > PAST_KEPT:
                    self._past.popitem(last=False)
        return found

    def compared(self, situation: Situation, supposed: Supposed) -> Comparison:
        """The changes beside the present, with chances of the same draws."""
        return compared(situation, supposed, draw)

    def _of(self, run: int) -> _Kept:
        with self._lock:
            return self._kept.setdefault(run, _Kept())

    def _made(self, kept: _Kept, situation: Situation) -> Outlook:
        with kept.making:
            newest = kept.newest
            if newest is not None and (_is_fresh(newest, situation) or time.monotonic() < kept.rested):
                return newest
            began = time.monotonic()
            kept.newest = made = outlook(situation, draw)
            ended = time.monotonic()
            kept.rested = ended + REST * (ended - began)
            return made


def _is_fresh(newest: Outlook, situation: Situation) -> bool:
    """Of the same state or a later one, and not too old."""
    return newest.situation.state.seq >= situation.state.seq and situation.at_s - newest.situation.at_s < FRESH_S
