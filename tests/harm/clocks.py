"""Clocks: the wall clock steps by an hour, summer time begins and ends, stations' clocks are off; elapsed is not.

Elapsed as the server shows it is held against this process's own steady clock, which nothing steps.
"""

import json
import time
import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from typing import Any

from tests.harm.clocked import AHEAD, WALL, write
from tests.harm.load import PROCEDURE, procedure
from tests.harm.server import Server, scratch
from tests.harm.streams import messages
from tests.harm.table import Row, unless
from tests.harm.wire import Line, start_run

PROMISE = "clocks"
MOST_MS = 50
HOUR_S = 3600
CHANGES = (datetime(2031, 3, 30, 1, tzinfo=UTC), datetime(2031, 10, 26, 1, tzinfo=UTC))
"""When summer time begins and ends in the European Union that year: last Sundays, 01:00 UTC (Directive 2000/84/EC)."""
SAMPLES = 8
MORE_SAMPLES = 40
KNOWN_TO_S = 0.02
"""On a busy machine more are taken, until one came within this: then its moment is known to half as much."""


@dataclass(slots=True)
class _Told:
    errors_ms: list[float] = field(default_factory=list)
    steps: int = 0
    logged: int = 0
    restarts: int = 0
    orders: int = 0
    wrong: list[str] = field(default_factory=list)


class Watched:
    """A server on set clocks, one run of it, and how far its elapsed is off since the run began."""

    def __init__(self, folder: Path, wall_s: float = 0, zone: str = "UTC") -> None:
        self._folder, self.wall_s = folder, wall_s
        write(folder, WALL, wall_s)
        write(folder, AHEAD, 0)
        program = ("tests.harm.clocked", str(folder), "serve")
        self.server = Server(folder, {PROCEDURE: procedure()}, program, environment={"TZ": zone})

    def begin(self) -> None:
        self.server.start()
        with Line(self.server.port) as line:
            self.run = start_run(line, PROCEDURE, "0:10:00")
        self._first_ms = self._elapsed_less_ours_ms()

    def error_ms(self) -> float:
        return abs(self._elapsed_less_ours_ms() - self._first_ms)

    def _elapsed_less_ours_ms(self) -> float:
        """From the first tick of a few streams the one that came quickest: its moment is known best."""
        quickest = min(self._sample() for _ in range(SAMPLES))
        for _ in range(MORE_SAMPLES):
            if quickest[0] < KNOWN_TO_S:
                break
            quickest = min(quickest, self._sample())
        return quickest[1]

    def _sample(self) -> tuple[float, float]:
        asked = time.monotonic()
        for there, message in messages(self.server.port, f"/api/runs/{self.run}/live", within_s=5):
            if b"event: tick" in message:
                elapsed_ms = json.loads(message.split(b"data: ", 1)[1])["elapsed_ms"]
                return there - asked, elapsed_ms - (asked + there) / 2 * 1000
        raise AssertionError("no tick within 5 s")

    def step(self, by_s: float) -> None:
        self.wall_s += by_s
        write(self._folder, WALL, self.wall_s)

    def go_on(self, seconds: float) -> None:
        """Let time pass, on both clocks of the server; ours does not go along."""
        write(self._folder, AHEAD, seconds)
        self._first_ms += seconds * 1000

    def restart(self, kill: bool, step_s: float = 0) -> None:
        """Stop or kill it, let the wall clock step while nobody looks, and start it again."""
        if kill:
            self.server.kill()
        else:
            self.server.stop()
        self.step(step_s)
        self.server.start()

    def note(self, text: str) -> None:
        """Under a key whose own time, that of a station's clock, is minutes off, now this way and now that."""
        off_ms = (-1) ** len(text) * 7 * 60_000
        milliseconds = int(time.time() * 1000) + off_ms
        key = str(uuid.UUID(int=milliseconds << 80 | 7 << 76 | 2 << 62 | uuid.uuid4().int >> 70))
        with Line(self.server.port) as line:
            line.done(f"/api/runs/{self.run}/orders", {"do": "note", "reason": text, "key": key})

    def log(self) -> list[dict[str, Any]]:
        with Line(self.server.port) as line:
            found: list[dict[str, Any]] = line.done(f"/api/runs/{self.run}/events")
        return found

    def steps(self) -> list[int]:
        return [each["body"]["step_ms"] for each in self.log() if each["kind"] == "ClockStepped"]


def row(rounds: int) -> Row:
    """So many rounds of a step forward and one back, each followed by restarts, the second with a step back while the
    server is down; then as many changes of summer time."""
    told = _Told()
    with scratch() as folder:
        _stepped(Watched(folder), rounds, told)
    for change in CHANGES[:rounds]:
        with scratch() as folder:
            hour_before_s = change.timestamp() - time.time() - HOUR_S
            _over_a_change(Watched(folder, hour_before_s, "Europe/Berlin"), change, told)
    worst_ms = max(told.errors_ms)
    return Row(
        PROMISE,
        "wall clock stepped by an hour each way, in a run and while the server is down; TZ=Europe/Berlin over a change",
        {
            "steps": told.steps,
            "logged as ClockStepped": told.logged,
            "restarts": told.restarts,
            "orders under keys 7 min off, in order": told.orders,
            "worst error of elapsed in ms": worst_ms,
        },
        tuple(unless(worst_ms < MOST_MS, f"elapsed was off by {worst_ms:.0f} ms, against {MOST_MS}") + told.wrong[:5]),
    )


def _stepped(watched: Watched, rounds: int, told: _Told) -> None:
    texts: list[str] = []

    def look() -> None:
        texts.append("n" * (len(texts) + 1))
        watched.note(texts[-1])
        told.errors_ms.append(watched.error_ms())

    try:
        watched.begin()
        for number in range(rounds):
            for by_s in (HOUR_S, -HOUR_S):
                look()
                watched.step(by_s)
                look()
                told.steps += 1
                _wait_for_steps(watched, told.steps)
                look()
                for step_s in (0, -by_s):
                    watched.restart(kill=number % 2 == 1, step_s=step_s)
                    told.restarts += 1
                    look()
                told.steps += 1
                _wait_for_steps(watched, told.steps)
                look()
        told.logged = len(watched.steps())
        told.wrong += unless(told.logged == told.steps, f"{told.logged} steps are logged, of {told.steps}")
        _judge_order(watched.log(), texts, told)
    finally:
        watched.server.kill()


def _wait_for_steps(watched: Watched, count: int, within_s: float = 10) -> None:
    until = time.monotonic() + within_s
    while len(watched.steps()) < count and time.monotonic() < until:
        time.sleep(0.1)


def _judge_order(log: Sequence[dict[str, Any]], texts: Sequence[str], told: _Told) -> None:
    """Seq, text and elapsed come in the order in which the orders were answered."""
    notes = [each for each in log if each["kind"] == "NoteAdded"]
    told.orders += len(notes)
    told.wrong += unless([each["body"]["text"] for each in notes] == list(texts), "the notes stand in another order")
    told.wrong += unless([each["seq"] for each in log] == list(range(1, len(log) + 1)), "a gap in seq")
    told.wrong += unless(all(a["at_s"] <= b["at_s"] for a, b in pairwise(notes)), "elapsed went back in the log")


def _over_a_change(watched: Watched, change: datetime, told: _Told) -> None:
    texts = ["n", "nn", "nnn", "nnnn"]
    try:
        watched.begin()
        watched.note(texts[0])
        watched.go_on(change.timestamp() - time.time() - watched.wall_s - 2)
        for text in texts[1:]:
            watched.note(text)
            told.errors_ms.append(watched.error_ms())
            time.sleep(1.2)
        watched.restart(kill=False)
        told.restarts += 1
        told.errors_ms.append(watched.error_ms())
        log = watched.log()
        stamps = [datetime.fromisoformat(each["logged_at"]) for each in log]
        told.wrong += unless(not watched.steps(), "a change of summer time was taken for a step")
        told.wrong += unless(stamps == sorted(stamps), "UTC went back over a change of summer time")
        told.wrong += unless(stamps[0] < change < stamps[-1], f"the run did not go over the change: {stamps}")
        _judge_order(log, texts, told)
    finally:
        watched.server.kill()
