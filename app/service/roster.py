"""Who there is, and who is signed in: in memory and as rows. It judges no password and no right.

What is looked up is looked up in memory. The rows are written first, and read again when another server of the same
database has changed them.
"""

import logging
from collections.abc import Callable, Iterable
from datetime import datetime
from functools import partial
from threading import Lock, RLock

from sqlalchemy import Connection

from app.core.commands import Refusal
from app.service import news
from app.store import journal
from app.store import people as rows
from app.store.faults import StoreFault, StoreFull
from app.store.holding import NEW_RUN
from app.store.people import Person, Session
from app.store.store import Store

logger = logging.getLogger(__name__)

ELSEWHERE = "Somebody's account was just changed at another server; nothing was done. Look at the list, and try again."


class Roster:
    """The people and sessions of one store. Safe to use from several threads."""

    def __init__(self, store: Store) -> None:
        """Raises StoreFault: they can't be read."""
        self._store = store
        self._lock = Lock()  # for the moment that it takes to look up or change what is in memory
        self._storing = RLock()  # from the rows to what is in memory: what is read again must not come between
        self._listeners: list[Callable[[str], None]] = []
        self._begun_unstored: set[str] = set()
        self._ended_unstored: set[str] = set()
        self.people: dict[str, Person] = {}
        self.sessions: dict[str, Session] = {}
        self._read()

    def _read(self) -> None:
        people, sessions = self._store.read(lambda conn: (rows.people(conn), rows.sessions(conn)))
        found = {each.token: each for each in sessions if each.token not in self._ended_unstored}
        with self._lock:
            found |= {of: each for of, each in self.sessions.items() if of in self._begun_unstored}
            self.people, self.sessions = {each.name: each for each in people}, found

    def read_again(self) -> None:
        """Take over what another server changed, and tell of the sessions that have ended. Raises StoreFault."""
        with self._storing:
            before, first = set(self.sessions), not self.people
            self._read()
            ended = before - set(self.sessions)
        self._tell_ended([*ended, *([""] if first and self.people else [])])

    def listen(self, listener: Callable[[str], None]) -> None:
        """`listener(token)` is called after a session has ended, with its stored token, in any thread.

        With an empty one when the first account ends the time in which none was needed.
        """
        self._listeners.append(listener)

    def _tell_ended(self, tokens: Iterable[str]) -> None:
        for token in tokens:
            for listener in self._listeners:
                listener(token)

    def keep(self, person: Person) -> Person:
        """Store somebody who is new or was changed, and sign them out everywhere.

        Raises:
            Refusal: another server has changed somebody since. StoreFault: it can't be stored.
        """

        def job(conn: Connection) -> None:
            journal.hold(conn, NEW_RUN)  # as good as any lock that all servers take: people are seldom changed
            if {_said(each) for each in rows.people(conn)} != known:
                raise Refusal("changed", ELSEWHERE)
            rows.keep_person(conn, person)
            rows.end_all(conn, person.name)
            self._store.tell(conn, news.PEOPLE)

        with self._storing:
            known = {_said(each) for each in self.people.values()}
            ended = self._end_all(person.name)  # First, so that a full disk keeps nobody in.
            self._ended_unstored |= ended  # Until it is stored; what is read again meanwhile keeps nobody in either.
            try:
                self._store.write(job).result()
            except Refusal:
                self._ended_unstored -= ended
                self._look_again()
                raise
            self._ended_unstored -= ended
            with self._lock:
                first = not self.people
                self.people[person.name] = person
            self._end_all(person.name)
        if first:
            self._tell_ended([""])  # From now on one signs in to look.
        return person

    def _look_again(self) -> None:
        """Whoever tries again is to decide on what is stored, also where no news of it came."""
        try:
            self.read_again()
        except StoreFault as fault:
            logger.warning("the list of people is not as it is stored yet: %s", fault)

    def _end_all(self, name: str) -> set[str]:
        return self._end_where(lambda session: session.person == name)

    def _end_where(self, over: Callable[[Session], bool]) -> set[str]:
        with self._lock:
            ended = [of for of, each in self.sessions.items() if over(each)]
            for of in ended:
                del self.sessions[of]
        self._tell_ended(ended)
        return set(ended)

    def begin(self, session: Session, of: Person) -> bool:
        """Begin a session. False if the person was changed or disabled meanwhile: that ended all sessions but this."""
        with self._storing:
            if not self._keep_if_there_is_room(partial(self._begin_row, session)):
                self._begun_unstored.add(session.token)
            with self._lock:
                still = self.people.get(of.name) == of
                if still:
                    self.sessions[session.token] = session
            if not still:
                self._drop_row(session.token)
        return still

    def end(self, session: str) -> None:
        """End a session, named by its stored token: at once, and on the disk as soon as there is room."""
        with self._lock:
            self.sessions.pop(session, None)
        self._tell_ended([session])
        with self._storing:
            self._drop_row(session)
            with self._lock:
                self.sessions.pop(session, None)  # It may have been read again before its row was gone.

    def sweep(self, now: datetime) -> None:
        """Forget the sessions whose time is over, and tell of their end. Their rows go when the next one begins.

        Raises:
            StoreFault: what was ended before can't be stored yet.
        """
        self._end_where(lambda session: session.ends_at <= now)
        for session in tuple(self._ended_unstored):
            if self._keep_if_there_is_room(partial(self._end_row, session)):
                self._ended_unstored.discard(session)

    def _keep_if_there_is_room(self, job: Callable[[Connection], None]) -> bool:
        """A full disk must keep nobody in, or out: a session that is not stored lasts as long as the server."""
        try:
            self._store.write(job).result()
        except StoreFull as fault:
            logger.warning("what became of a session is not stored yet: %s", fault)
            return False
        return True

    def _drop_row(self, session: str) -> None:
        self._begun_unstored.discard(session)
        self._ended_unstored.add(session)
        if self._keep_if_there_is_room(partial(self._end_row, session)):
            self._ended_unstored.discard(session)

    def _begin_row(self, session: Session, conn: Connection) -> None:
        rows.begin(conn, session)
        self._store.tell(conn, news.PEOPLE)

    def _end_row(self, session: str, conn: Connection) -> None:
        rows.end(conn, session)
        self._store.tell(conn, news.PEOPLE)


def _said(person: Person) -> tuple[str, str, str, bool]:
    """What may be changed of somebody. When they were added is stored less finely than a clock shows it."""
    return person.name, person.may, person.password, person.enabled
