"""An acknowledged mark survives a crash: a real server, eight clients, SIGKILL at random, over and over."""

import random
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from tests.harm.examined import Found, examine
from tests.harm.load import CLIENTS, PROCEDURE, Heard, clients, procedure
from tests.harm.server import SERVE, Server, scratch
from tests.harm.table import Row, unless
from tests.harm.wire import Line, start_run

PROMISE = "an acknowledged mark survives a crash"
RUNS = 4
LEAST = 10
"""Orders acknowledged in each life: a kill before that would tell little."""
MOST_S = 1.2
"""A life of the server under load is between a twentieth of this and all of it."""


@dataclass(slots=True)
class _Told:
    """What the cycles found so far."""

    heard: list[Heard] = field(default_factory=lambda: [Heard() for _ in range(CLIENTS)])
    lost: int = 0
    moved: int = 0
    untold: int = 0
    gaps: int = 0
    halves: int = 0
    events: int = 0
    different: int = 0
    faults: list[str] = field(default_factory=list)

    def acknowledged(self) -> dict[str, tuple[int, int]]:
        return {key: place for each in self.heard for key, place in list(each.acknowledged.items())}


def row(cycles: int, seed: int = 20310504, program: Sequence[str] = SERVE) -> Row:
    """Kill a server so many times; after each kill the folder is examined as it lies there, then started again."""
    told, pick = _Told(), random.Random(seed)
    with scratch() as folder:
        server = Server(folder, {PROCEDURE: procedure()}, program)
        try:
            server.start()
            with Line(server.port) as line:
                runs = [start_run(line, PROCEDURE) for _ in range(RUNS)]
            for cycle in range(cycles):
                _cycle(server, runs, told, pick, seed + cycle)
        finally:
            server.kill()
    return _row(cycles, told)


def _cycle(server: Server, runs: list[int], told: _Told, pick: random.Random, seed: int) -> None:
    before = len(told.acknowledged())
    pressing = clients(server.port, runs, seed, told.heard)
    time.sleep(pick.uniform(MOST_S / 20, MOST_S))
    _wait_for(lambda: len(told.acknowledged()) >= before + LEAST)
    server.kill()
    for each in pressing:
        each.join()
    told.faults += unless("Traceback" not in server.said(), f"the server failed inside: {server.said()[-300:]}")
    found = examine(server.data)
    server.start()
    _compare(told, found)
    with Line(server.port) as line:
        told.different += _shown_otherwise(line, runs, found)


def _wait_for(enough: Callable[[], bool], within_s: float = 20) -> None:
    """On a busy machine the clients come late to it."""
    until = time.monotonic() + within_s
    while not enough() and time.monotonic() < until:
        time.sleep(0.005)


def _compare(told: _Told, found: Found) -> None:
    acknowledged = told.acknowledged()
    told.lost += sum(key not in found.places for key in acknowledged)
    places = ((place, found.places[key]) for key, place in acknowledged.items() if key in found.places)
    told.moved += sum((run, seq) != (at, last) for (run, seq), (at, _, last) in places)
    tried = {key for each in told.heard for key in each.tried}
    told.untold = len(tried & found.places.keys() - acknowledged.keys())
    told.gaps, told.halves, told.events = told.gaps + found.gaps, told.halves + found.halves, found.events
    told.faults += found.faults


def _shown_otherwise(line: Line, runs: list[int], found: Found) -> int:
    """Keys that the server, started again, does not have where the file had them at the kill."""
    shown: dict[str, tuple[int, int, int]] = {}
    for run in runs:
        for each in line.done(f"/api/runs/{run}/events"):
            first = shown.get(each["key"], (run, each["seq"], 0))[1]
            shown[each["key"]] = (run, first, each["seq"])
    return sum(shown.get(key) != place for key, place in found.places.items()) + len(shown.keys() - found.places.keys())


def _row(cycles: int, told: _Told) -> Row:
    odd = [sentence for each in told.heard for sentence in each.odd]
    acknowledged = len(told.acknowledged())
    return Row(
        PROMISE,
        f"SIGKILL at random under {CLIENTS} clients over {RUNS} runs; acknowledged keys against rows",
        {
            "cycles": cycles,
            "acknowledged": acknowledged,
            "lost": told.lost,
            "gaps": told.gaps,
            "half commands": told.halves,
            "events": told.events,
            "stored but told to nobody": told.untold,
            "checks of file and chain that failed": len(told.faults),
        },
        tuple(
            unless(told.lost == 0, f"{told.lost} acknowledged keys are not in the log")
            + unless(told.moved == 0, f"{told.moved} keys stand at another seq than was answered")
            + unless(told.gaps + told.halves == 0, "a log has a gap, or half a command")
            + unless(told.different == 0, f"{told.different} keys are shown otherwise than they are stored")
            + unless(
                acknowledged >= LEAST * cycles, f"only {acknowledged} orders were acknowledged: too few to mean much"
            )
            + told.faults
            + odd[:5]
        ),
    )
