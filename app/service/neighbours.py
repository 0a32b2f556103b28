"""The other servers on the same database: what they tell is taken over here, be it late. It tells them nothing itself.

Who stores something tells it in the same transaction (`Store.tell`), so the news is there after the commit and never
without it. News is a hint and no more: what it is about is read from the database.
"""

import logging
import threading

from app.service import news
from app.service.held import Held
from app.service.people import People
from app.store.faults import RunDamaged, StoreClosed, StoreFault
from app.store.store import EVERYTHING

logger = logging.getLogger(__name__)


class Neighbours:
    """Has the runs and the people of this server follow the database. Safe to use from several threads."""

    def __init__(self, held: Held, people: People) -> None:
        """Hear from now on."""
        self._held = held
        self._people = people
        self._owed: set[str] = set()
        self._stumbled: set[str] = set()
        self._looking = threading.Lock()
        held.store.hear(self.heard)

    def heard(self, topic: str) -> None:
        """Take over what the news is about. What can't be read is owed, and looked at again by `look`."""
        self._owed.discard(topic)
        try:
            self._take_over(topic)
            self._stumbled.discard(topic)
        except StoreClosed:
            pass  # The server is stopping.
        except RunDamaged as fault:  # To read it again would find the same.
            logger.warning("%s", fault)
        except StoreFault as fault:
            self._owed.add(topic)
            logger.warning("news of another server (%s) has to wait: %s", topic, fault)
        except Exception:  # Whoever reads the news must live, and nobody stay signed in for it.
            self._owed.add(topic)
            if topic not in self._stumbled:  # It is tried each second, and told of once.
                logger.exception("news of another server (%s) can't be taken over", topic)
            self._stumbled.add(topic)

    def _take_over(self, topic: str) -> None:
        if topic == EVERYTHING:
            self._people.read_again()
            self._held.catch_up_all()
        elif topic == news.PEOPLE:
            self._people.read_again()
        elif topic == news.PROCEDURES:
            self._held.tell_of_lists()
        elif (run := news.run_of(topic)) is not None:
            self._held.catch_up(run)
        else:
            logger.warning("news of another server is not understood: %r", topic[:40])

    @property
    def owes(self) -> bool:
        """Whether `look` has something to do."""
        return bool(self._owed or self._held.behind)

    def look(self) -> None:
        """Try again what could not be read. About once a second."""
        with self._looking:
            for topic in sorted(self._owed | {news.of_run(run) for run in tuple(self._held.behind)}):
                self.heard(topic)
