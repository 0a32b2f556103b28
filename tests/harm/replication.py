"""``python -m tests.harm.replication [--kills N]``: the database is lost under load, and its standby takes over.

Two PostgreSQL servers on loopback, the second a streaming copy of the first made by pg_basebackup; two Leadline servers
that know both by one address. The first PostgreSQL is killed with all its processes, the second promoted, and what was
acknowledged is looked for in it. Not tried: two real machines, a network that is cut between them, a tool that decides
by itself when to promote, and a first server that comes back and believes that it still is the first.
"""

import argparse
import sys
import threading
import time
import uuid
from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import psycopg

from tests import postgres
from tests.harm.load import PROCEDURE, procedure
from tests.harm.server import Server, scratch
from tests.harm.table import Row, show, unless
from tests.harm.wire import Line, NoAnswer, start_run
from tests.postgres import Cluster
from tests.served import called

PROMISE = "a database that is lost with its machine loses no mark"
RUNS = 2
CLIENTS = 4
LEAST = 25
"""Orders acknowledged before the kill, and again after it. Fewer would tell little."""
WITHIN_S = 60
SOON_S = 10
"""By then each server has read what the other one wrote."""


@dataclass(slots=True)
class Heard:
    """What one client was told: (run, seq) of each key, and how often it was refused with what status."""

    acknowledged: dict[str, tuple[int, int]] = field(default_factory=dict)
    refused: Counter[int] = field(default_factory=Counter)
    unanswered: int = 0


class Client(threading.Thread):
    """Notes as fast as they are answered; each is sent with its key until it is, as a station's outbox does."""

    def __init__(self, port: int, run: int) -> None:
        super().__init__(daemon=True)
        self.heard = Heard()
        self._port, self._run = port, run
        self._stopping = threading.Event()

    def run(self) -> None:
        with Line(self._port, timeout_s=WITHIN_S) as line:
            while not self._stopping.is_set():
                key = str(uuid.uuid4())
                while not self._given(line, key) and not self._stopping.is_set():
                    time.sleep(0.02)

    def finish(self) -> None:
        self._stopping.set()
        self.join()

    def _given(self, line: Line, key: str) -> bool:
        try:
            answer = line.post(f"/api/runs/{self._run}/orders", {"do": "note", "reason": "all well", "key": key})
        except NoAnswer:
            self.heard.unanswered += 1
            return False
        if answer.status == 200:
            self.heard.acknowledged[key] = (self._run, answer.json()["seq"])
            return True
        self.heard.refused[answer.status] += 1
        return False


@dataclass(frozen=True, slots=True)
class Pair:
    """Two PostgreSQL servers; `url` leads to whichever of them may be written."""

    first: Cluster
    second: Cluster
    database: str
    url: str


@contextmanager
def pair(*, synchronous: bool) -> Iterator[Pair]:
    """The second follows the first. Where synchronous, a commit is answered when it is on the second's disk too."""
    with ExitStack() as until:
        first = Cluster(settings={"cluster_name": "first"})
        until.callback(first.close)
        database = first.new_database().rpartition("/")[2]
        second = Cluster(settings={"cluster_name": "second"}, of=first)
        until.callback(second.close)
        with psycopg.connect(first.conninfo(), autocommit=True) as db:
            if synchronous:
                db.execute("ALTER SYSTEM SET synchronous_standby_names = 'second'")
                db.execute("SELECT pg_reload_conf()")
            wanted = "sync" if synchronous else "async"
            postgres.until(lambda: db.execute("SELECT sync_state FROM pg_stat_replication").fetchall() == [(wanted,)])
        yield Pair(first, second, database, _either(first, second, database))


def _either(first: Cluster, second: Cluster, database: str) -> str:
    """libpq tries the addresses in turn until one may be written (its manual: target_session_attrs)."""
    who = first.url(database).partition("@")[0]
    hosts = "&".join(f"host=127.0.0.1:{each.port}" for each in (first, second))
    return f"{who}@/{database}?{hosts}&target_session_attrs=read-write"


@dataclass(slots=True)
class Figures:
    """Of one kill."""

    acknowledged: int = 0
    after: int = 0
    lost: int = 0
    moved: int = 0
    doubled: int = 0
    refused: int = 0
    unanswered: int = 0
    promoted_s: float = 0.0
    back_s: float = 0.0
    broken: list[str] = field(default_factory=list)


def trial(*, synchronous: bool, held_back: bool = False) -> Figures:
    """Kill the first database under load, promote the second, press on, and compare.

    Args:
        held_back: the second is kept from receiving before the kill, so that something must be lost: the control.
    """
    with ExitStack() as until:
        both = until.enter_context(pair(synchronous=synchronous))
        folder = until.enter_context(scratch())
        servers = [_server(folder / name, both.url, until) for name in ("one", "two")]
        with Line(servers[0].port) as line:
            runs = [start_run(line, PROCEDURE) for _ in range(RUNS)]
        pressing = [Client(servers[number % 2].port, runs[number // 2 % 2]) for number in range(CLIENTS)]
        for each in pressing:
            each.start()
        found = _lose_the_first(both, pressing, held_back)
        for each in pressing:
            each.finish()
        found.broken += _shown_otherwise(both, servers)
        for server in servers:
            found.broken += unless(server.runs, "a Leadline server ended")
            found.broken += unless("Traceback" not in server.said(), f"it failed inside: {server.said()[-500:]}")
            server.stop()
        _compare(found, both, [each.heard for each in pressing], folder)
    return found


def _server(folder: Path, url: str, until: ExitStack) -> Server:
    folder.mkdir()
    server = Server(folder, {PROCEDURE: procedure()}, environment={"LEADLINE_DATABASE": url})
    server.start()
    until.callback(server.kill)
    return server


def _lose_the_first(both: Pair, pressing: list[Client], held_back: bool) -> Figures:
    found = Figures()
    _each_hears(pressing, LEAST)
    if held_back:
        _hold_back(both)
        _each_hears(pressing, LEAST)
    both.first.kill()
    killed, before = time.monotonic(), [len(each.heard.acknowledged) for each in pressing]
    both.second.promote()
    found.promoted_s = time.monotonic() - killed
    _each_hears(pressing, 1)
    found.back_s = time.monotonic() - killed
    _each_hears(pressing, LEAST)
    found.after = sum(len(each.heard.acknowledged) for each in pressing) - sum(before)
    return found


def _each_hears(pressing: list[Client], more: int) -> None:
    """Wait until each client was acknowledged so many more orders."""
    wanted = [len(each.heard.acknowledged) + more for each in pressing]
    postgres.until(
        lambda: all(len(each.heard.acknowledged) >= many for each, many in zip(pressing, wanted, strict=True))
    )


def _hold_back(both: Pair) -> None:
    """The second follows no more, as when the line between the two was cut."""
    with psycopg.connect(both.second.conninfo(), autocommit=True) as db:
        db.execute("ALTER SYSTEM SET primary_conninfo = ''")
        db.execute("SELECT pg_reload_conf()")
    with psycopg.connect(both.first.conninfo(), autocommit=True) as db:
        postgres.until(lambda: db.execute("SELECT 1 FROM pg_stat_replication").fetchone() is None)


def _shown_otherwise(both: Pair, servers: list[Server]) -> list[str]:
    """A sentence for each server that, soon after the last press, shows another head of a run than is stored."""
    newest = "SELECT DISTINCT ON (run) run, seq || ':' || chain FROM event ORDER BY run, seq DESC"
    with psycopg.connect(both.second.conninfo(both.database)) as db:
        stored = db.execute(newest).fetchall()
    end = time.monotonic() + SOON_S
    while (odd := _odd(stored, servers)) and time.monotonic() < end:
        time.sleep(0.1)
    return odd


def _odd(stored: list[tuple[int, str]], servers: list[Server]) -> list[str]:
    odd = []
    for server in servers:
        with Line(server.port) as line:
            shown = {run: line.done(f"/api/runs/{run}")["head"] for run, _ in stored}
        odd += [
            f"{server.folder.name} shows run {run} at {shown[run]}, not {head}"
            for run, head in stored
            if shown[run] != head
        ]
    return odd


def _compare(found: Figures, both: Pair, heard: list[Heard], folder: Path) -> None:
    """What was answered against the rows of the promoted database, by plain SQL; its chains as `leadline copy` does."""
    acknowledged = {key: place for each in heard for key, place in each.acknowledged.items()}
    with psycopg.connect(both.second.conninfo(both.database)) as db:
        rows = db.execute("SELECT key, run, max(seq), count(*) FROM event GROUP BY key, run").fetchall()
    places = {key: (run, seq) for key, run, seq, _ in rows}
    found.acknowledged = len(acknowledged)
    found.lost = len(acknowledged.keys() - places.keys())
    found.moved = sum(places.get(key, place) != place for key, place in acknowledged.items())
    found.doubled = sum(count > 1 for key, _, _, count in rows if key in acknowledged)
    found.refused = sum(each.refused.total() for each in heard)
    found.unanswered = sum(each.unanswered for each in heard)
    copied = called("copy", "--from", both.second.url(both.database), "--to", folder / "copy", folder=folder)
    found.broken += unless(copied.returncode == 0, f"the promoted database is not sound: {copied.stderr}")


def row(kills: int) -> Row:
    """So many losses of the first database where the second is synchronous, and one where it is not, counted only."""
    found = [trial(synchronous=True) for _ in range(kills)]
    late = trial(synchronous=False)
    lost, moved, doubled = (sum(getattr(each, name) for each in found) for name in ("lost", "moved", "doubled"))
    return Row(
        PROMISE,
        f"two PostgreSQL, two Leadline, {CLIENTS} clients; SIGKILL for the first's processes, pg_ctl promote",
        {
            "kills": kills,
            "acknowledged": sum(each.acknowledged for each in found),
            "of these after the promotion": sum(each.after for each in found),
            "lost": lost,
            "moved": moved,
            "doubled": doubled,
            "refused meanwhile": sum(each.refused for each in found),
            "unanswered meanwhile": sum(each.unanswered for each in found),
            "promoted after s, at worst": max(each.promoted_s for each in found),
            "every client acknowledged again after s, at worst": max(each.back_s for each in found),
            "asynchronous: acknowledged": late.acknowledged,
            "asynchronous: lost": late.lost,
        },
        tuple(
            unless(lost == 0, f"{lost} acknowledged orders are not in the promoted database")
            + unless(moved == 0, f"{moved} orders stand at another seq than was answered")
            + unless(doubled == 0, f"{doubled} orders were stored twice")
            + [sentence for each in (*found, late) for sentence in each.broken]
        ),
    )


def main(words: list[str]) -> int:
    """Print the row. Returns 1 if the promise was broken."""
    read = argparse.ArgumentParser(
        prog="python -m tests.harm.replication", description="Lose a database; see what held."
    )
    read.add_argument("--kills", type=int, default=5)
    asked = read.parse_args(words)
    if why := postgres.why_not():
        print(f"PostgreSQL was not tested: {why}")
        return 1
    made = row(asked.kills)
    print(show(made))
    return 0 if made.kept else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
