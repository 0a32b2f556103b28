"""The leads of a run so far: keeps the samples that it made, and makes only what is new. It changes nothing."""

from threading import Lock

from app.core.events import Logged
from app.core.fold import changes_from_s
from app.core.lead_so_far import LeadPoint, lead_point, moments, step_for
from app.service.live_run import LiveRun


class LeadHistory:
    """Of one run, whose log only grows at its end. Safe to ask from several threads.

    A sample changes only when an event is entered that happened at its second or before it; then it is made anew.
    """

    def __init__(self) -> None:
        self._lock = Lock()
        self._kept: dict[int, LeadPoint] = {}
        self._seen = 0

    def points(self, live: LiveRun, until_s: int) -> tuple[LeadPoint, ...]:
        """The samples from 0 to elapsed second `until_s` and that second itself, each as ``?at=`` would show it.

        Only samples of the grid are kept, so that a run that is looked at every second does not fill the memory.
        Those of a finer grid stay: they serve ``?at=`` early in a long run, and many are on the coarser grid too.
        """
        step_s = step_for(until_s)
        with self._lock:
            self._take_in(live.log)
            return tuple(self._at(live, at_s, at_s % step_s == 0) for at_s in moments(until_s, step_s))

    def _take_in(self, log: list[Logged]) -> None:
        """Forget the samples that the events since the last call have changed."""
        new = log[self._seen :]
        if not new:
            return
        self._seen += len(new)
        since_s = min(changes_from_s(logged) for logged in new)
        self._kept = {at_s: point for at_s, point in self._kept.items() if at_s < since_s}

    def _at(self, live: LiveRun, at_s: int, keep: bool) -> LeadPoint:
        found = self._kept.get(at_s)
        if found is None:
            found = lead_point(live.prepared, live.past.at(at_s), at_s)
            if keep:
                self._kept[at_s] = found
        return found
