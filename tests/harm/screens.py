"""Screens miss nothing: raw stream clients behind a cable that is cut, goes dead or answers 503, while orders go on and
the server is stopped, killed and started again. Each screen must end at the last seq.

A client comes back at the pace of static/stream.js; only its patience with a silent link is shorter than a page's 20 s.
"""

import asyncio
import json
import random
import re
import statistics
import time
from collections.abc import Awaitable, Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any

from tests.browser.cable import Cable
from tests.harm.server import HOST, SERVE, Server, scratch
from tests.harm.wire import Line, NoAnswer, start_run

SILENT_S = 4.0
FIRST_WAIT_S, LONGEST_WAIT_S, SPREAD_S = 0.25, 4.0, 1.0
WITHIN_S = 30.0
"""Who has not caught up then has missed something."""
APART_S = 0.02
_MESSAGE = re.compile(rb"event: (\w+)\n(?:id: \d+\n)?data: (.*)", re.DOTALL)


class Screen:
    """One stream of a run, opened anew whenever it ends, is refused or falls silent."""

    def __init__(self, port: int, run: int, chance: random.Random, silent_s: float = SILENT_S) -> None:
        """`silent_s`: its patience with a link on which nothing comes."""
        self.seq = 0
        self.opened = 0
        self.backwards = 0
        self._port, self._run, self._chance = port, run, chance
        self._tries = 0
        self._silent_s = silent_s

    async def watch(self) -> None:
        """Until cancelled."""
        while True:
            with suppress(OSError, EOFError, TimeoutError, asyncio.LimitOverrunError):
                await self._read()
            wait = min(LONGEST_WAIT_S, FIRST_WAIT_S * 2**self._tries) + self._chance.random() * SPREAD_S
            self._tries = min(self._tries + 1, 10)
            await asyncio.sleep(wait)

    async def _read(self) -> None:
        reader, writer = await asyncio.open_connection(HOST, self._port, limit=1 << 22)
        try:
            writer.write(f"GET /api/live?run={self._run}&run=0 HTTP/1.1\r\nHost: {HOST}:{self._port}\r\n\r\n".encode())
            status = await self._heard(reader, b"\r\n\r\n")
            if not status.startswith(b"HTTP/1.1 200"):
                return
            self.opened += 1
            while True:
                self._take(await self._heard(reader, b"\n\n"))
        finally:
            writer.transport.abort()

    async def _heard(self, reader: asyncio.StreamReader, end: bytes) -> bytes:
        """Not by `asyncio.wait_for`: before Python 3.12 it lets go of a cancellation that meets what was waited for."""
        async with asyncio.timeout(self._silent_s):
            return await reader.readuntil(end)

    def _take(self, chunk: bytes) -> None:
        found = _MESSAGE.search(chunk)
        if found is None:
            return
        self._tries = 0
        told = json.loads(found[2].split(b"\n")[0])
        if told.get("run") == self._run and "seq" in told:
            # A tick that was being made while a change was told may name the seq before it, and no older one.
            self.backwards += found[1] == b"changed" and told["seq"] < self.seq
            self.seq = max(self.seq, told["seq"])


@dataclass(slots=True)
class _Scene:
    """A server behind a cable, with its screens and what was acknowledged."""

    server: Server
    cable: Cable
    run: int
    within_s: float
    screens: list[Screen]
    acknowledged: int = 0
    last: int = 0
    back_s: list[float] = field(default_factory=list)
    missed: int = 0
    done: list[str] = field(default_factory=list)


def cut_screens(
    cuts: int, screens: int, seed: int = 5, program: Sequence[str] = SERVE, within_s: float = WITHIN_S
) -> dict[str, Any]:
    """So many cuts of each kind in turn, orders before, during and after each.

    Returns:
        The figures by name; under `broken` what was promised and not kept. Times are in seconds, from the moment at
        which the link was whole again to the one at which the last screen had the last seq.
    """
    with scratch() as folder, Server(folder, program=program) as server, Cable(server.port) as cable:
        with Line(server.port) as line:
            run = start_run(line, "pump-changeout")
        chance = random.Random(seed)
        scene = _Scene(server, cable, run, within_s, [Screen(cable.port, run, chance) for _ in range(screens)])
        asyncio.run(_play(scene, cuts))
        with Line(server.port) as line:
            in_log = line.done(f"/api/runs/{run}/events")
    return _figures(scene, [each["seq"] for each in in_log])


async def _play(scene: _Scene, cuts: int) -> None:
    watching = [asyncio.create_task(each.watch()) for each in scene.screens]
    await _orders(scene, 0.2)
    await _caught_up(scene)
    kinds = list(_KINDS)
    for number in range(cuts):
        kind = kinds[number % len(kinds)]
        scene.done.append(kind)
        await _orders(scene, 0.2)
        await _KINDS[kind](scene)
        began = time.monotonic()
        await _orders(scene, 0.2)
        scene.missed += await _caught_up(scene)
        scene.back_s.append(time.monotonic() - began)
        await _orders(scene, 0.1)  # And what happens when all are back.
        scene.missed += await _caught_up(scene)
    for each in watching:
        each.cancel()
    await asyncio.gather(*watching, return_exceptions=True)


async def _cut(scene: _Scene) -> None:
    await asyncio.to_thread(scene.cable.cut)
    await _orders(scene, 1)
    await asyncio.to_thread(scene.cable.restore)


async def _dead(scene: _Scene) -> None:
    await asyncio.to_thread(scene.cable.go_dead)
    await _orders(scene, 1)
    await asyncio.to_thread(scene.cable.restore)


async def _unavailable(scene: _Scene) -> None:
    await asyncio.to_thread(scene.cable.answer, 503, len(scene.screens))


async def _killed(scene: _Scene) -> None:
    going = asyncio.create_task(_orders(scene, 0.3))
    await asyncio.sleep(0.1)
    await asyncio.to_thread(scene.server.kill)
    await going
    await asyncio.to_thread(scene.server.start)


async def _stopped(scene: _Scene) -> None:
    await asyncio.to_thread(scene.server.stop)
    await asyncio.to_thread(scene.server.start)


_KINDS: dict[str, Callable[[_Scene], Awaitable[None]]] = {
    "cut": _cut,
    "killed": _killed,
    "503": _unavailable,
    "dead": _dead,
    "stopped": _stopped,
}


async def _orders(scene: _Scene, for_s: float) -> None:
    """Notes from a station whose own cable is whole, one after another. One that is not answered may be in the log."""
    await asyncio.to_thread(_send_orders, scene, for_s)


def _send_orders(scene: _Scene, for_s: float) -> None:
    until = time.monotonic() + for_s
    with Line(scene.server.port) as line:
        while time.monotonic() < until:
            with suppress(NoAnswer):
                answer = line.post(f"/api/runs/{scene.run}/orders", {"do": "note", "reason": "heard"})
                if answer.status == 200:
                    scene.acknowledged += 1
                    scene.last = answer.json()["seq"]
            time.sleep(APART_S)


async def _caught_up(scene: _Scene) -> int:
    """Wait until every screen is at the last seq that was acknowledged. Returns how many are not."""
    until = time.monotonic() + scene.within_s
    while (behind := sum(each.seq < scene.last for each in scene.screens)) and time.monotonic() < until:
        await asyncio.sleep(0.01)
    return behind


def _figures(scene: _Scene, in_log: list[int]) -> dict[str, Any]:
    behind = sum(each.seq != in_log[-1] for each in scene.screens)
    backwards = sum(each.backwards for each in scene.screens)
    claims = {
        f"{scene.missed} screens had not caught up {scene.within_s:.0f} s after a cut": scene.missed == 0,
        f"{behind} screens do not end at seq {in_log[-1]}": behind == 0,
        f"{backwards} changes were told out of order": backwards == 0,
        "the log has gaps": in_log == list(range(1, len(in_log) + 1)),
    }
    return {
        "cuts": len(scene.done),
        "kinds": ", ".join(f"{kind} {scene.done.count(kind)}" for kind in dict.fromkeys(scene.done)),
        "screens": len(scene.screens),
        "streams opened": sum(each.opened for each in scene.screens),
        "acknowledged": scene.acknowledged,
        "missed": scene.missed + behind,
        "catch-up p50 s": round(statistics.median(scene.back_s), 2) if scene.back_s else None,
        "catch-up worst s": round(max(scene.back_s), 2) if scene.back_s else None,
        "broken": [sentence for sentence, holds in claims.items() if not holds],
    }
