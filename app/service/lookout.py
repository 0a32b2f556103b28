"""Looks at runs and changes none: the way so far, what is ahead, what would be if. It gives no order."""

from collections.abc import Sequence
from functools import cached_property
from threading import Lock
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

from app.core.lead_so_far import LeadPoint
from app.core.what_if import what_if
from app.service.history import LeadHistory
from app.service.live_run import LiveRun
from app.service.runs import Service
from app.service.seeking import Moments, RunMoments

# Looking ahead needs numpy, which takes a tenth of a second to load: the first one who looks ahead loads it.
if TYPE_CHECKING:
    from app.core.outlook import Comparison, Outlook
    from app.service.outlooks import Outlooks


class Lookout:
    """One for the server. Safe to ask from several threads."""

    def __init__(self, service: Service) -> None:
        self._service = service
        # By the run as it is held, for a log that lost its end is another one under the same number.
        self._histories: WeakKeyDictionary[LiveRun, LeadHistory] = WeakKeyDictionary()
        self._moments: WeakKeyDictionary[LiveRun, RunMoments] = WeakKeyDictionary()
        self._lock = Lock()

    def lead_so_far(self, run: int, until_s: int | None = None) -> tuple[LeadPoint, ...]:
        """The leads from zero to now, or to an elapsed second that has passed. Raises NoSuchRun."""
        live = self._service.run(run)
        with self._lock:
            history = self._histories.setdefault(live, LeadHistory())
        return history.points(live, max(0, live.now_s()) if until_s is None else until_s)

    def moments(self, run: int, look_s: float = 0) -> Moments:
        """What is worth going to in the run. `look_s`: look so long for where the lead turned. Raises NoSuchRun."""
        live = self._service.run(run)
        with self._lock:
            found = self._moments.setdefault(live, RunMoments())
        return found.found(live, look_s)

    def outlook(self, run: int, at_s: int | None = None) -> "Outlook":
        """What is ahead of the run now, at most some seconds old, or was at an elapsed second that has passed.

        Raises:
            NoSuchRun: there is none. Refusal: `at_s` is before zero or has not come yet.
        """
        situation = self._service.situation(run, at_s)
        return self._outlooks.now(run, situation) if at_s is None else self._outlooks.past(run, situation)

    def newest(self, run: int) -> "Outlook | None":
        """The last outlook of the run that was made, if somebody asked for one. It makes none."""
        return self._outlooks.newest(run) if "_outlooks" in self.__dict__ else None

    def is_due(self, run: int) -> bool:
        """Whether somebody looks ahead in this run and what they see is no longer fresh."""
        return "_outlooks" in self.__dict__ and self._outlooks.is_due(run, self._service.situation(run))

    def refresh(self, run: int) -> None:
        """Look ahead anew, if that is due."""
        self._outlooks.now(run, self._service.situation(run), asked=False)

    def what_if(self, run: int, said: Sequence[str], at_s: int | None = None) -> "Comparison":
        """Where the run would stand after these changes, beside where it stands.

        Raises:
            NoSuchRun: there is none. Refusal: a change can't be read, or its order would be refused now.
        """
        situation = self._service.situation(run, at_s)
        return self._outlooks.compared(situation, what_if(situation, said))

    def close(self) -> None:
        """Let the process that looks ahead go, if there is one, whatever it does; who waits for it is refused."""
        if "_outlooks" in self.__dict__:
            self._outlooks.close()

    @cached_property
    def _outlooks(self) -> "Outlooks":
        from app.service.outlooks import Outlooks

        return Outlooks()
