"""Two servers' services on one PostgreSQL database, in this process; each hears the other."""

import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

from app.service.neighbours import Neighbours
from app.service.people import People
from app.service.runs import Service
from app.settings import HOME
from app.store.clock import ServerClock
from app.store.opening import open_store
from app.store.store import Store

WITHIN_S = 20


@dataclass(frozen=True, slots=True)
class One:
    """One server, as far as a service goes. `told` has what its listeners were called with: run and seq."""

    store: Store
    service: Service
    people: People
    told: list[tuple[int, int]]
    ended: list[str]

    def hear(self) -> Neighbours:
        """From now on it hears the others."""
        return Neighbours(self.service, self.people)


@contextmanager
def server(folder: Path, url: str, clock: ServerClock | None = None) -> Iterator[One]:
    """One that hears nobody yet."""
    with open_store(folder, HOME / "migrations", "test", url) as store:
        service = Service(store, clock)
        made = One(store, service, People(store, service.clock), [], [])
        service.listen(lambda run, seq: made.told.append((run, seq)))
        made.people.listen(made.ended.append)
        yield made


@contextmanager
def two_servers(folder: Path, url: str, *, hearing: bool = True) -> Iterator[tuple[One, One]]:
    """Two that hear each other, unless they are not to."""
    with ExitStack() as both:
        here, there = (both.enter_context(server(folder / name, url)) for name in ("here", "there"))
        if hearing:
            for each in (here, there):
                each.hear()
                until(lambda: bool(each.told), "the first word of everything")  # noqa: B023 - called at once
                each.told.clear()
        yield here, there


def until(done: Callable[[], bool], what: str = "it") -> None:
    """Wait for what is claimed."""
    end = time.monotonic() + WITHIN_S
    while not done():
        assert time.monotonic() < end, f"{what} did not come within {WITHIN_S} s"
        time.sleep(0.002)
