"""Eight clients that mark, undo and note as fast as they are answered, and keep what was acknowledged.

They run in threads against a real server and stop when it is gone; what that means is for others to judge.
"""

import random
import threading
import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from app.service.runs import Service
from app.service.values import Sender
from app.settings import HOME
from app.store.sqlite_store import SqliteStore
from tests.harm.wire import Line, NoAnswer

CLIENTS = 8
STEPS = 60
PROCEDURE = "load"


def procedure(clients: int = CLIENTS, steps: int = STEPS) -> str:
    """One person and one task for each client, so that what one may do never waits for another."""
    crew = "".join(f"  P{number}: {{}}\n" for number in range(clients))
    line = "      - {do: Turn it, takes: 1 min}\n"
    tasks = "".join(
        f"  - task: t{number}\n    title: Work {number}\n    who: P{number}\n    steps:\n{line * steps}"
        for number in range(clients)
    )
    return f"procedure: {PROCEDURE}\ntitle: Load\ncrew:\n{crew}tasks:\n{tasks}"


def first_run(data: Path) -> int:
    """A run in a data folder that is made and closed here, so that a server's own start writes little."""
    with SqliteStore(data, HOME / "migrations") as opened:
        service = Service(opened)
        loaded = service.shelf.load(procedure().encode(), f"{PROCEDURE}.yaml")
        return service.start_run(loaded.hash, "rehearsal", Sender("A", "station", str(uuid.uuid4())))


@dataclass(slots=True)
class Heard:
    """What one client was told.

    Attributes:
        acknowledged: (run, last seq) by key, from whole answers only.
        tried: every key that was sent, with its run.
        marked: how far it is in each run, as far as it knows.
        odd: answers that no order should get, in words.
    """

    acknowledged: dict[str, tuple[int, int]] = field(default_factory=dict)
    tried: dict[str, int] = field(default_factory=dict)
    marked: dict[int, int] = field(default_factory=dict)
    odd: list[str] = field(default_factory=list)


class Client(threading.Thread):
    """One client, for one life of the server."""

    def __init__(self, port: int, number: int, runs: Sequence[int], seed: int, heard: Heard) -> None:
        super().__init__(daemon=True)
        self._line, self._number, self._runs = Line(port), number, runs
        self._pick = random.Random(seed)
        self._heard = heard
        self._stopping = threading.Event()

    def run(self) -> None:
        with self._line:
            while not self._stopping.is_set():
                try:
                    self._press(self._pick.choice(self._runs))
                except NoAnswer:
                    return

    def finish(self) -> None:
        """Let it end after the order under way."""
        self._stopping.set()
        self.join()

    def _press(self, run: int) -> None:
        key, marked = str(uuid.UUID(int=self._pick.getrandbits(128), version=4)), self._heard.marked.setdefault(run, 0)
        what = self._pick.choice(["note", "note", "mark", "mark", "undo"])
        if what == "mark" and marked < STEPS:
            path, said, move = "marks", {"step": f"t{self._number}/{marked + 1}"}, 1
        elif what == "undo" and marked:
            path, said, move = "orders", {"do": "undo", "step": f"t{self._number}/{marked}"}, -1
        else:
            path, said, move = "orders", {"do": "note", "reason": "all well"}, 0
        self._heard.tried[key] = run
        answer = self._line.post(f"/api/runs/{run}/{path}", said | {"key": key})
        if answer.status == 200:
            self._heard.acknowledged[key] = (run, answer.json()["seq"])
            self._heard.marked[run] += move
        elif answer.status == 409:
            self._heard.marked[run] = self._known_better(marked, move)
        else:
            self._heard.odd.append(f"{path}: {answer.status} {answer.text[:120]}")

    def _known_better(self, marked: int, move: int) -> int:
        """An order of an earlier life was carried out after all, though nobody heard of it."""
        return (marked + 1) % STEPS if move >= 0 else max(0, marked - 1)


def clients(port: int, runs: Sequence[int], seed: int, heard: Sequence[Heard]) -> list[Client]:
    """Clients that have begun."""
    made = [Client(port, number, runs, seed * 100 + number, each) for number, each in enumerate(heard)]
    for each in made:
        each.start()
    return made
