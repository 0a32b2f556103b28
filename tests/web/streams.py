"""What the tests of the live stream share: a server, runs, and a reader of server-sent events. No test of its own."""

import json
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx

from app.settings import HOME
from tests.ports import free_port
from tests.served import Served
from tests.web.site import Site


@dataclass(frozen=True, slots=True)
class Told:
    """One server-sent event (WHATWG HTML, 9.2)."""

    name: str
    id: str
    data: Any


def told(answer: httpx.Response) -> Iterator[Told]:
    fields: dict[str, str] = {}
    for line in answer.iter_lines():
        if line:
            name, _, text = line.partition(": ")
            fields[name] = text
        elif "event" in fields:
            yield Told(fields["event"], fields.get("id", ""), json.loads(fields["data"]))
            fields = {}


def news(answer: httpx.Response) -> Iterator[Told]:
    """What is told but for beats: they come where a slow machine has nothing to tell for two seconds."""
    return (each for each in told(answer) if each.name != "beat")


def own(server: Served) -> dict[str, str]:
    """What a page of this server sends along."""
    return {"Origin": server.address.rstrip("/")}


def serving(folder: Path) -> list[str]:
    data, samples = str(folder / "data"), str(HOME / "procedures")
    return ["serve", "--data", data, "--port", str(free_port()), "--procedures", samples]


def start(client: httpx.Client) -> int:
    answer = client.post("/api/runs", json={"procedure": "pump-changeout", "kind": "rehearsal"})
    return int(answer.json()["run"])


def ready(client: httpx.Client) -> int:
    """A run in which the first step may be marked: its warning is acknowledged."""
    run = start(client)
    for person in ("EV1", "EV2"):
        order = {"do": "acknowledge", "step": "go-out/1", "person": person}
        assert client.post(f"/api/runs/{run}/orders", json=order).status_code == 200
    return run


class Heard:
    """A stream of a `Site`, read in its loop whenever the site waits or is asked something."""

    def __init__(self, site: Site, runs: Iterable[int], session: str | None = None) -> None:
        self.messages: list[bytes] = []
        self.ended = False
        self._site = site
        self._stream = site.shell.live.stream(runs, session)
        self._task = site._runner.get_loop().create_task(self._read())

    async def _read(self) -> None:
        async for message in self._stream:
            self.messages.append(message)
        self.ended = True

    def told(self, name: str) -> list[dict[str, Any]]:
        """The data of all messages of this name so far."""
        begin = f"event: {name}\n".encode()
        return [json.loads(each.split(b"data: ")[1]) for each in self.messages if each.startswith(begin)]

    def until(self, claim: Callable[[], bool], within_s: float = 10) -> None:
        """Raises AssertionError if it does not come true in that time."""
        end = time.monotonic() + within_s
        while not claim():
            assert time.monotonic() < end, f"it did not come true: {self.messages[-3:]}"
            self._site.wait(0.05)

    def leave(self) -> None:
        self._task.cancel()
        self._site.wait(0.01)
