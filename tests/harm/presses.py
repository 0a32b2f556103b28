"""One effect per press: requests sent twice, replies dropped, the server killed between tries, until all are told.

A press keeps its key until it is acknowledged, as a station's outbox does.
"""

import random
import threading
import time
import uuid
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from tests.harm.load import CLIENTS, PROCEDURE, procedure
from tests.harm.server import Server, scratch
from tests.harm.table import Row, unless
from tests.harm.wire import Line, NoAnswer, start_run

PROMISE = "one effect per press"
RUNS = 3
TWICE = 0.3
DROPPED = 0.2


@dataclass(frozen=True, slots=True)
class Press:
    """Where it is sent, and what; its key stays the same for every try."""

    key: str
    path: str
    said: dict[str, str]


@dataclass(slots=True)
class _Tally:
    """What the clients met. Each thread has its own."""

    sent: int = 0
    twice: int = 0
    dropped: int = 0
    unanswered: int = 0
    repeated: int = 0
    odd: list[str] = field(default_factory=list)


class _Presser(threading.Thread):
    """Gives its presses one after the other, each again and again until the whole answer is there."""

    def __init__(self, port: int, presses: Sequence[Press], seed: int) -> None:
        super().__init__(daemon=True)
        self._port, self._presses, self._pick = port, presses, random.Random(seed)
        self.tally = _Tally()

    def run(self) -> None:
        with Line(self._port) as line, Line(self._port) as other:
            for press in self._presses:
                while not self._given(line, other, press):
                    time.sleep(self._pick.uniform(0.005, 0.05))

    def _given(self, line: Line, other: Line, press: Press) -> bool:
        """One try, sometimes on two connections at once. True when it was acknowledged."""
        said = {**press.said, "key": press.key}
        self.tally.sent += 1
        try:
            if self._pick.random() < TWICE:
                self.tally.twice += 1
                other.begin(press.path, said)
            line.begin(press.path, said)
            if self._pick.random() < DROPPED:
                self.tally.dropped += 1
                line.drop()
                return False
            answer = line.read()
        except NoAnswer:
            self.tally.unanswered += 1
            return False
        finally:
            other.drop()
        return self._taken(press, answer.status, answer.text)

    def _taken(self, press: Press, status: int, text: str) -> bool:
        self.tally.repeated += status == 200 and '"repeated":true' in text
        if status not in (200, 201):
            self.tally.odd.append(f"{press.path} {press.said}: {status} {text[:120]}")
        return status in (200, 201) or len(self.tally.odd) > 20


def row(presses: int, up_s: float = 0.5, seed: int = 20310504) -> Row:
    """So many presses by each client, over a server that is killed after about `up_s`, until all are acknowledged."""
    pick = random.Random(seed)
    with scratch() as folder:
        server = Server(folder, {PROCEDURE: procedure(steps=presses)})
        try:
            server.start()
            with Line(server.port) as line:
                runs = [start_run(line, PROCEDURE) for _ in range(RUNS)]
                given = [_presses(number, presses, runs, pick) for number in range(CLIENTS)]
            tallies, kills, failed = _press_all(server, given, pick, up_s)
            with Line(server.port) as line:
                effects = _effects(line)
        finally:
            server.kill()
    return _row([press.key for some in given for press in some], tallies, effects, kills, failed)


def _presses(number: int, count: int, runs: Sequence[int], pick: random.Random) -> list[Press]:
    """One person's: a run started, then notes and marks mixed, the marks in the order of the steps."""
    started = {"procedure": PROCEDURE, "kind": "rehearsal"}
    made = [Press(_key(pick), "/api/runs", started)]
    marked = dict.fromkeys(runs, 0)
    for one in range(count):
        run = pick.choice(runs)
        if pick.random() < 0.5:
            made.append(Press(_key(pick), f"/api/runs/{run}/orders", {"do": "note", "reason": f"note {number}/{one}"}))
        else:
            marked[run] += 1
            made.append(Press(_key(pick), f"/api/runs/{run}/marks", {"step": f"t{number}/{marked[run]}"}))
    return made


def _key(pick: random.Random) -> str:
    return str(uuid.UUID(int=pick.getrandbits(128), version=4))


def _press_all(
    server: Server, given: Sequence[Sequence[Press]], pick: random.Random, up_s: float
) -> tuple[list[_Tally], int, list[str]]:
    """What each client met, how often the server was killed, and what failed inside it."""
    pressing = [_Presser(server.port, some, number) for number, some in enumerate(given)]
    for each in pressing:
        each.start()
    kills, failed = 0, list[str]()
    while any(each.is_alive() for each in pressing):
        time.sleep(pick.uniform(0.2, 1.8) * up_s)
        server.kill()
        kills += 1
        failed += unless("Traceback" not in server.said(), f"the server failed inside: {server.said()[-300:]}")
        server.start()
    return [each.tally for each in pressing], kills, failed


def _effects(line: Line) -> Counter[str]:
    """How many events, in all runs there are, came of each key. A run that was started is its first event."""
    runs = [each["run"] for each in line.done("/api/runs")]
    return Counter(each["key"] for run in runs for each in line.done(f"/api/runs/{run}/events"))


def _row(
    keys: Sequence[str], tallies: Sequence[_Tally], effects: Counter[str], kills: int, failed: Sequence[str]
) -> Row:
    missing = sum(effects[key] == 0 for key in keys)
    doubled = sum(effects[key] > 1 for key in keys)
    odd = [sentence for each in tallies for sentence in each.odd]
    return Row(
        PROMISE,
        f"{TWICE:.0%} of requests sent twice, {DROPPED:.0%} of replies never read, the server killed between tries",
        {
            "operations": len(keys),
            "requests": sum(each.sent + each.twice for each in tallies),
            "sent twice": sum(each.twice for each in tallies),
            "replies dropped": sum(each.dropped for each in tallies),
            "cut off": sum(each.unanswered for each in tallies),
            "kills": kills,
            "answered as repeated": sum(each.repeated for each in tallies),
            "doubled": doubled,
            "missing": missing,
        },
        tuple(
            unless(doubled == 0, f"{doubled} presses have more than one effect")
            + unless(missing == 0, f"{missing} acknowledged presses have none")
            + odd[:5]
            + list(failed[:3])
        ),
    )
