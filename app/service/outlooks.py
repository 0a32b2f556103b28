"""The outlook of each run: made when it is asked for, kept while it is fresh, and never in the way of a mark.

It is worked out in the process aside. One outlook of a run is made at a time; whoever asks meanwhile gets that one.
A run whose log moves faster than outlooks are made is told the newest there is, so that at most one part in four of a
processor goes into looking ahead.
"""

import time
from collections import OrderedDict
from dataclasses import dataclass, field, fields
from threading import Lock

from app.core.forecast import Forecast
from app.core.outlook import Ahead, Comparison, Outlook
from app.core.situation import Situation
from app.core.what_if import Supposed
from app.service.aside import STOPPING, aside
from app.service.far import NeedsProcedure, far_forecasts, far_outlook
from app.store.faults import StoreClosed

FRESH_S = 10
"""An outlook is made anew at least so often while somebody looks."""
REST = 3
"""After one that took so long, the next of the run begins no sooner than this many times as long later."""
ASKED_S = 60
"""A run that nobody asked about for so long is looked ahead for no more."""
PAST_KEPT = 8
"""Outlooks of past moments that are kept, of all runs together."""


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
        self._closed = False

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
            self._be_open()
            found = made(situation)
            with self._lock:
                self._past[key] = found
                while len(self._past) > PAST_KEPT:
                    self._past.popitem(last=False)
        return found

    def compared(self, situation: Situation, supposed: Supposed) -> Comparison:
        """The changes beside the present, with chances of the same draws."""
        self._be_open()
        before, then = forecasts(situation, supposed.then)
        return Comparison(supposed, situation, before, then)

    def close(self) -> None:
        """Let nobody wait any longer: all that is asked, now or later, is refused as StoreClosed."""
        self._closed = True
        aside().close()

    def _be_open(self) -> None:
        if self._closed:
            raise StoreClosed(STOPPING)

    def _of(self, run: int) -> _Kept:
        with self._lock:
            return self._kept.setdefault(run, _Kept())

    def _made(self, kept: _Kept, situation: Situation) -> Outlook:
        with kept.making:
            newest = kept.newest
            if newest is not None and (_is_fresh(newest, situation) or time.monotonic() < kept.rested):
                return newest
            began = time.monotonic()
            self._be_open()
            kept.newest = made(situation)
            ended = time.monotonic()
            kept.rested = ended + REST * (ended - began)
            return kept.newest


def _is_fresh(newest: Outlook, situation: Situation) -> bool:
    """Of the same state or a later one, and not too old."""
    return newest.situation.state.seq >= situation.state.seq and situation.at_s - newest.situation.at_s < FRESH_S


def made(situation: Situation) -> Outlook:
    """An outlook, worked out aside."""
    state, procedure = situation.state, situation.prepared.base.procedure
    try:
        found: Ahead = aside().call(far_outlook, state.revision, None, state, situation.at_s)
    except NeedsProcedure:
        found = aside().call(far_outlook, state.revision, procedure, state, situation.at_s)
    return Outlook(**{each.name: getattr(found, each.name) for each in fields(Ahead)}, situation=situation)


def forecasts(*situations: Situation) -> tuple[Forecast | None, ...]:
    """Of several situations of one run at one moment, from the same draws, worked out aside."""
    first, states = situations[0], [situation.state for situation in situations]
    procedure = first.prepared.base.procedure
    try:
        return aside().call(far_forecasts, first.state.revision, None, states, first.at_s)
    except NeedsProcedure:
        return aside().call(far_forecasts, first.state.revision, procedure, states, first.at_s)
