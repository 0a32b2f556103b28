"""Two hundred screens of one run on a real server: each ends at the last seq, and who does not read harms nobody."""

import asyncio
import random
import socket
import time
from collections.abc import Iterator
from contextlib import ExitStack
from urllib.parse import urlsplit

import httpx
import pytest

from tests.harm.screens import Screen
from tests.served import Served, served
from tests.web.streams import own, serving, start

SCREENS = 200
NOTES = 60
WITHIN_S = 20


@pytest.fixture
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    folder = tmp_path_factory.mktemp("many")
    with served(serving(folder), folder) as found:
        yield found


def _port(server: Served) -> int:
    return urlsplit(server.address).port or 80


async def _play(server: Served, run: int) -> tuple[list[int], int]:
    """Orders while the screens are opened, and after. Returns where each screen stands and the last seq."""
    screens = [Screen(_port(server), run, random.Random(0), silent_s=WITHIN_S) for _ in range(SCREENS)]
    watching = [asyncio.create_task(each.watch()) for each in screens]
    async with httpx.AsyncClient(base_url=server.address, headers=own(server), timeout=WITHIN_S) as client:
        last = 0
        for number in range(NOTES):
            said = {"do": "note", "reason": str(number)}
            answer = await client.post(f"/api/runs/{run}/orders", json=said)
            last = answer.json()["seq"]
    until = time.monotonic() + WITHIN_S
    while any(each.seq < last for each in screens) and time.monotonic() < until:
        await asyncio.sleep(0.02)
    for each in watching:
        each.cancel()
    await asyncio.gather(*watching, return_exceptions=True)
    assert all(each.opened == 1 for each in screens), "a stream was lost meanwhile"
    return [each.seq for each in screens], last


def test_two_hundred_screens_end_at_the_last_seq(server: Served) -> None:
    with httpx.Client(base_url=server.address, timeout=10, headers=own(server)) as client:
        run = start(client)
    stand, last = asyncio.run(_play(server, run))
    assert last == NOTES + 1
    assert stand == [last] * SCREENS


def test_screens_that_never_read_hold_up_neither_orders_nor_those_that_do(server: Served) -> None:
    with httpx.Client(base_url=server.address, timeout=10, headers=own(server)) as client, ExitStack() as deaf:
        run = start(client)
        for _ in range(40):
            each = deaf.enter_context(socket.create_connection(("127.0.0.1", _port(server))))
            each.sendall(f"GET /api/live?run={run}&run=0 HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n".encode())
        stand, last = asyncio.run(_play(server, run))
    assert stand == [last] * SCREENS
