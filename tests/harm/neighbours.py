"""Two servers, one database: presses at both, some of them at both at once, while each is killed in turn and the
database itself is. A press keeps its key and goes to the other server when one does not answer; a screen does as well.
"""

import random
import threading
import time
import uuid
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy import create_engine, text

from tests import postgres
from tests.harm.load import PROCEDURE, procedure
from tests.harm.server import Server, scratch
from tests.harm.streams import messages
from tests.harm.table import Row, unless
from tests.harm.wire import Line, NoAnswer, start_run

PROMISE = "two servers, one database"
PRESSERS = 4
SCREENS = 3
"""At each server."""
AT_BOTH = 0.3
ASKED_AGAIN = 0.2
APART_S = 0.05
BOTH_UP_S, DOWN_S = 1.5, 1.0
CAUGHT_UP_S = 30.0
"""A screen whose server is gone, or that does not have the last word by then, has missed it."""


@contextmanager
def pair(folder: Path, url: str, procedures: dict[str, str] | None = None) -> Iterator[tuple[Server, Server]]:
    """Two servers of one database that serve."""
    made = []
    for name in ("one", "two"):
        (folder / name).mkdir()
        made.append(Server(folder / name, procedures, environment={"LEADLINE_DATABASE": url}))
    try:
        for each in made:
            each.start()
        yield made[0], made[1]
    finally:
        for each in made:
            each.kill()


class Screen(threading.Thread):
    """A stream of a run at one of the servers; when it ends or falls silent, at the other one."""

    def __init__(self, ports: Sequence[int], run: int) -> None:
        super().__init__(daemon=True)
        self.seq = 0
        self.opened = 0
        self.stopping = False
        self._ports, self._run = list(ports), run

    def run(self) -> None:
        while not self.stopping:
            with suppress(OSError):
                self._read(self._ports[0])
            self._ports.append(self._ports.pop(0))
            time.sleep(0.1)

    def _read(self, port: int) -> None:
        with closing(messages(port, f"/api/runs/{self._run}/live", CAUGHT_UP_S * 10)) as heard:
            for place, (_, message) in enumerate(heard):
                self.opened += place == 0
                for line in message.split(b"\n"):
                    if line.startswith(b"id: "):
                        self.seq = max(self.seq, int(line[4:]))
                if self.stopping:
                    return


@dataclass(slots=True)
class Tally:
    """What the pressers met."""

    sent: int = 0
    at_both: int = 0
    unanswered: int = 0
    moved: int = 0
    refused: int = 0
    asked_again: int = 0
    other_answer: int = 0
    odd: list[str] = field(default_factory=list)


class _Presser(threading.Thread):
    """Gives notes one after the other, each with its key at one server or the other until one has acknowledged it."""

    def __init__(self, ports: Sequence[int], run: int, number: int) -> None:
        super().__init__(daemon=True)
        self.stopping = False
        self._pick = random.Random(number)
        self._ports, self._number = list(ports), number
        self._path = f"/api/runs/{run}/orders"
        self.tally = Tally()
        self.given: dict[str, Any] = {}

    def run(self) -> None:
        with Line(self._ports[0]) as one, Line(self._ports[1]) as two:
            self._press_on(self._pick.sample([one, two], 2))

    def _press_on(self, lines: list[Line]) -> None:
        while not self.stopping:
            place = len(self.given)
            said = {"do": "note", "reason": f"note {self._number}/{place}", "key": self._key()}
            while not self._pressed(lines, said):
                lines.reverse()
                self.tally.moved += 1
                time.sleep(self._pick.uniform(0.02, 0.1))
            if self._pick.random() < ASKED_AGAIN:
                self._ask_again(lines[1], said)
            time.sleep(self._pick.uniform(0, 2 * APART_S))

    def _key(self) -> str:
        return str(uuid.UUID(int=self._pick.getrandbits(128), version=4))

    def _pressed(self, lines: Sequence[Line], said: dict[str, str]) -> bool:
        self.tally.sent += 1
        try:
            if self._pick.random() < AT_BOTH:
                self.tally.at_both += 1
                with suppress(NoAnswer):
                    lines[1].begin(self._path, said)
            answer = lines[0].post(self._path, said)
        except NoAnswer:
            self.tally.unanswered += 1
            return False
        finally:
            lines[1].drop()
        if answer.status == 503 and len(answer.json().get("detail", "")) > 20:
            self.tally.refused += 1
            return False
        if answer.status != 200:
            self.tally.odd.append(f"{answer.status} {answer.text[:200]}")
            return len(self.tally.odd) > 5
        self.given[said["key"]] = answer.json()["events"]
        return True

    def _ask_again(self, other: Line, said: dict[str, str]) -> None:
        """The same key at the other server: the same answer."""
        with suppress(NoAnswer):
            answer = other.post(self._path, said)
            if answer.status == 200:
                self.tally.asked_again += 1
                again = answer.json()
                self.tally.other_answer += not again["repeated"] or again["events"] != self.given[said["key"]]


def row(kills: int) -> Row:
    """So many kills under load: a server, the database, the other server, and so on."""
    if why := postgres.why_not():
        return Row(PROMISE, missing=f"PostgreSQL was not tested: {why}")
    cluster = postgres.Cluster()
    try:
        with scratch() as folder:
            url = cluster.new_database()
            with pair(folder, url, {PROCEDURE: procedure(steps=2)}) as servers:
                return _tried(cluster, servers, url, kills)
    finally:
        cluster.close()


def _tried(cluster: postgres.Cluster, servers: tuple[Server, Server], url: str, kills: int) -> Row:
    ports = [each.port for each in servers]
    with Line(ports[0]) as line:
        run = start_run(line, PROCEDURE)
    screens = [Screen(ports[place:] + ports[:place], run) for place in (0, 1) for _ in range(SCREENS)]
    pressing = [_Presser(ports, run, number) for number in range(PRESSERS)]
    for each in (*screens, *pressing):
        each.start()
    for number in range(kills):
        time.sleep(BOTH_UP_S)
        _break(cluster, servers, number)
    time.sleep(BOTH_UP_S)
    for presser in pressing:
        presser.stopping = True
    for presser in pressing:
        presser.join()
    stored = _stored(url, run)
    last, told_s = max(stored.values(), default=(0, 0))[0], time.monotonic()
    while any(each.seq < last for each in screens) and time.monotonic() < told_s + CAUGHT_UP_S:
        time.sleep(0.01)
    took_s = time.monotonic() - told_s
    heads = [_head(port, run) for port in ports]
    for each in screens:
        each.stopping = True
    for each in screens:
        each.join(CAUGHT_UP_S)
    said = [each.said() for each in servers]
    return _row(pressing, screens, stored, heads, took_s, said, kills)


def _break(cluster: postgres.Cluster, servers: tuple[Server, Server], number: int) -> None:
    """Kill one, and have it again."""
    if number % 3 == 1:
        cluster.stop("immediate")
        time.sleep(DOWN_S)
        cluster.start()
    else:
        server = servers[(number + 1) // 2 % 2]
        server.kill()
        server.start()


def _stored(url: str, run: int) -> dict[str, tuple[int, int]]:
    """(last seq, how many events) by key, as PostgreSQL itself has it."""
    engine = create_engine(url)
    try:
        with engine.connect() as conn:
            asked = text("SELECT key, max(seq), count(*) FROM event WHERE run = :run GROUP BY key")
            return {key: (last, count) for key, last, count in conn.execute(asked, {"run": run})}
    finally:
        engine.dispose()


def _head(port: int, run: int) -> tuple[int, str]:
    with Line(port) as line:
        last = line.done(f"/api/runs/{run}/events")[-1]
    return last["seq"], last["chain"]


def _figures(pressing: Sequence[_Presser], screens: Sequence[Screen], kills: int) -> dict[str, float]:
    tallies = [each.tally for each in pressing]
    return {
        "acknowledged": sum(len(each.given) for each in pressing),
        "requests": sum(each.sent + each.at_both for each in tallies),
        "unanswered": sum(each.unanswered for each in tallies),
        "refused in words": sum(each.refused for each in tallies),
        "servers killed": kills - (kills + 1) // 3,
        "PostgreSQL killed": (kills + 1) // 3,
        "asked again at the other": sum(each.asked_again for each in tallies),
        "screens": len(screens),
        "streams opened": sum(each.opened for each in screens),
    }


def _failed_inside(heads: Sequence[tuple[int, str]], said: Sequence[str]) -> list[str]:
    return [
        *unless(len({*heads}) == 1, f"the servers differ: {heads}"),
        *unless(not any("Traceback" in each for each in said), f"a server failed inside: {said[0][-300:]}"),
    ]


def _row(
    pressing: Sequence[_Presser],
    screens: Sequence[Screen],
    stored: dict[str, tuple[int, int]],
    heads: Sequence[tuple[int, str]],
    took_s: float,
    said: Sequence[str],
    kills: int,
) -> Row:
    tallies = [each.tally for each in pressing]
    keys = [key for each in pressing for key in each.given]
    missing, doubled = sum(key not in stored for key in keys), sum(count != 1 for _, count in stored.values())
    last = max(stored.values(), default=(0, 0))[0]
    gaps = last - sum(count for _, count in stored.values())
    behind = sum(each.seq < last for each in screens)
    other = sum(each.other_answer for each in tallies)
    odd = [each for tally in tallies for each in tally.odd]
    return Row(
        PROMISE,
        f"{PRESSERS} pressers at both, {AT_BOTH:.0%} of presses at both at once; each server killed, and PostgreSQL",
        _figures(pressing, screens, kills)
        | {
            "other answers": other,
            "lost": missing,
            "doubled": doubled,
            "gaps": gaps,
            "screens behind": behind,
            "the last had all after, s": took_s,
        },
        (
            *unless(missing == 0, f"{missing} acknowledged presses are not in the log"),
            *unless(doubled == 0, f"{doubled} presses have more than one effect"),
            *unless(gaps == 0, f"{gaps} places in the log are empty"),
            *unless(other == 0, f"{other} presses got another answer at the other server"),
            *unless(behind == 0, f"{behind} screens did not hear the end within {CAUGHT_UP_S:.0f} s"),
            *_failed_inside(heads, said),
            *odd[:3],
        ),
    )
