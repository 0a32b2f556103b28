"""People with accounts: what each may do, and how they sign in and out. It knows no route, no cookie and no row."""

import hashlib
import logging
import math
import secrets
import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

from app.core.commands import Refusal
from app.service.passwords import LONGEST_NAME, fits, folded, hashed, sound_name, sound_password
from app.service.rights import Admitted, TooMany, network_of, sound_right
from app.service.roster import Roster
from app.service.seals import Seals
from app.service.throttle import Throttle
from app.store.clock import ServerClock
from app.store.people import Person, Session
from app.store.stamps import rounded
from app.store.store import Store

logger = logging.getLogger(__name__)

SESSION_LASTS = timedelta(hours=24)
"""A shift and its handover, with room; NIST SP 800-63B, 4.2.3 (from memory) asks again once a day."""


class People:
    """The people of one store. Safe to use from several threads."""

    def __init__(self, store: Store, clock: ServerClock) -> None:
        """Raises StoreFault: they can't be read."""
        self._roster = Roster(store)
        self._clock = clock
        self._throttle = Throttle(clock.monotonic)
        self._seals = Seals(store.secret)
        self._lock = threading.Lock()  # for the moment that it takes to count a try
        self._changing = threading.Lock()  # for a whole change: two keepers' must not meet

    @property
    def _people(self) -> dict[str, Person]:
        """As they are now; by name."""
        return self._roster.people

    def read_again(self) -> None:
        """Take over what another server of the same database changed. Raises StoreFault."""
        self._roster.read_again()

    def listen(self, listener: Callable[[str], None]) -> None:
        """See `Roster.listen`."""
        self._roster.listen(listener)

    @property
    def none(self) -> bool:
        """Whether there are no accounts, not even disabled ones."""
        return not self._people

    @property
    def can_sign_in(self) -> bool:
        return any(person.enabled for person in self._people.values())

    def everybody(self) -> tuple[Person, ...]:
        """By name."""
        return tuple(sorted(self._people.values(), key=lambda person: person.name.casefold()))

    # The keeper's work

    def add(self, name: str, may: str, password: str, by: str | None = None) -> Person:
        """Add somebody.

        `by`: the keeper who does so; empty while there are no accounts, None at the command line.

        Raises:
            Refusal: the name or password won't do, there is somebody of that name, `by` keeps people no more, or it
                is the first account and may not keep.
        """
        shown = sound_name(name)
        secret, now = hashed(sound_password(password, shown)), rounded(self._clock.utc())  # As it will be read again.
        person = Person(shown, sound_right(may), secret, True, now)
        with self._changing:
            self._still_keeps(by)
            if self._named(shown) is not None:
                raise Refusal("twice", f"There is somebody called {shown} already.")
            if self.none and not _keeps(person):
                raise Refusal("no-keeper", "The first account must be one that may keep: it adds the others.")
            return self._roster.keep(person)

    def change(
        self,
        name: str,
        *,
        may: str | None = None,
        password: str | None = None,
        enabled: bool | None = None,
        of: Person | None = None,
        by: str | None = None,
    ) -> Person:
        """Change somebody, and sign them out everywhere: what they may do, or by what, is not what it was.

        `of`: only if they are still as they were. `by`: as in `add`.

        Raises:
            Refusal: there is nobody of that name, the password won't do, no keeper would be left, or `by` is none.
        """
        changes: dict[str, Any] = {} if enabled is None else {"enabled": enabled}
        if may is not None:
            changes["may"] = sound_right(may)
        if password is not None:  # Here, for it takes long, and others' changes must not be undone by it.
            changes["password"] = hashed(sound_password(password, name))
        with self._changing:
            self._still_keeps(by)
            person = self._named(name)
            if person is None:
                raise Refusal("nobody", f"There is nobody called {name[:LONGEST_NAME]}.")
            if of not in (None, person):
                raise Refusal("changed", "This account was just changed; nothing was done. Sign in again.")
            changed = replace(person, **changes)
            others = [each for each in self._people.values() if each.name != person.name]
            if _keeps(person) and not any(map(_keeps, (*others, changed))):
                raise Refusal("no-keeper", f"{person.name} is the only keeper; make somebody else one first.")
            return self._roster.keep(changed)

    def _still_keeps(self, by: str | None) -> None:
        """The password took a while to hash, and the keeper may have been disabled meanwhile."""
        acting = self._people.get(by) if by else None
        if by is not None and not (self.none if acting is None else _keeps(acting)):
            raise Refusal("not-allowed", "You keep people no more; nothing was done.")

    # Signing in and out

    def sign_in(self, name: str, password: str, station: str, address: str, device: str) -> tuple[str, Session]:
        """`admit`, then `try_password`."""
        return self.try_password(name, password, station, self.admit(name, address, device))

    def admit(self, name: str, address: str, device: str) -> Admitted:
        """Take a try, before any time is spent on the password.

        Args:
            address: of the network, for counting tries.
            device: what `device_token` gave this browser before, or anything else.

        Raises:
            TooMany: see `service.throttle`.
        """
        account, address = folded(name), network_of(address)
        return self._admitted(account, address, self._is_of(device, account))

    def _admitted(self, account: str, address: str, known: bool) -> Admitted:
        """Raises TooMany."""
        with self._lock:
            taken = self._throttle.take(address, account, f"{account} at {address}" if known else None)
        if taken.wait_s:
            raise TooMany(math.ceil(taken.wait_s))
        return Admitted(account, address, known, taken)

    def give_back(self, by: Admitted) -> None:
        """The try was right, or nobody looked at it."""
        with self._lock:
            self._throttle.give_back(by.taken)

    def try_password(self, name: str, password: str, station: str, by: Admitted) -> tuple[str, Session]:
        """Begin a session. `station` is the label for the log.

        Returns:
            The secret that the station must send with each request, and the session as it is stored.

        Raises:
            Refusal: the name and password don't fit.
        """
        person = self._named(name)
        right = fits(password, None if person is None else person.password)
        if person is None or not person.enabled or not right:
            # %r: on one line.
            logger.warning("a sign-in as %r from %r was refused", by.account[:LONGEST_NAME], by.address)
            raise Refusal("no-sign-in", "That name and password do not fit. Ask your keeper if you cannot get in.")
        self.give_back(by)
        token, now = secrets.token_urlsafe(32), self._clock.utc()
        session = Session(_of(token), person.name, station, now, now + SESSION_LASTS)
        if not self._roster.begin(session, person):
            raise Refusal("no-sign-in", "This account was just changed; sign in again.")
        return token, session

    def who(self, token: str) -> tuple[Person, Session] | None:
        """Who sends this secret, if they are signed in."""
        session = self._roster.sessions.get(_of(token)) if token else None
        if session is None or session.ends_at <= self._clock.utc():
            return None
        person = self._people[session.person]
        return (person, session) if person.enabled else None

    def sign_out(self, session: str) -> None:
        """End a session, named by its stored token: at once, and on the disk as soon as there is room."""
        self._roster.end(session)

    def sweep(self) -> None:
        """Forget the sessions whose time is over, and tell of their end."""
        self._roster.sweep(self._clock.utc())

    def change_own_password(self, name: str, old: str, new: str, address: str) -> None:
        """Raises Refusal: the old one is wrong, or the new one won't do. TooMany: as at signing in."""
        person = self._people[name]
        # Whoever is signed in is known: somebody else who guesses at the same station does not hold them up.
        admitted = self._admitted(folded(name), network_of(address), True)
        if not fits(old, person.password):
            raise Refusal("no-sign-in", "The present password is not that.")
        self.give_back(admitted)
        self.change(name, password=new, of=person)

    # Tokens

    @property
    def database(self) -> str:
        """What tells the people's database from another: 8 hex signs."""
        return self._seals.database()

    def form_token(self, of: str) -> str:
        """The token that the forms of a session carry; without accounts, those of a station. 32 hex signs."""
        return self._seals.form(of)

    def notice_token(self, of: str) -> str:
        """What shows that a page's word of what was done is our own, and not what a link brings. 32 hex signs."""
        return self._seals.notice(of)

    def device_token(self, name: str) -> str:
        """What a browser keeps after somebody signed in there: see `service.throttle`."""
        person = self._named(name)
        return self._seals.device(folded(name), person.password if person else "")

    def _is_of(self, device: str, account: str) -> bool:
        person = self._named(account)
        return person is not None and self._seals.is_device(device, account, person.password)

    def _named(self, name: str) -> Person | None:
        wanted = folded(name)
        return next((person for person in self._people.values() if folded(person.name) == wanted), None)


def _keeps(person: Person) -> bool:
    return person.enabled and person.may == "keep"


def _of(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()
