"""A thin HTTP/1.1 client and a reader of event streams, so that the bench costs little beside what it measures."""

import asyncio
import json
import re
import time
from types import TracebackType
from typing import Any, Self

HOST = "127.0.0.1"
_ID = re.compile(rb"id: ?(\d+)")


class Line:
    """One connection that is kept open; one request at a time."""

    def __init__(self, port: int) -> None:
        self._port = port

    async def __aenter__(self) -> Self:
        self._reader, self._writer = await asyncio.open_connection(HOST, self._port, limit=1 << 24)
        return self

    async def __aexit__(
        self, _kind: type[BaseException] | None, _error: BaseException | None, _: TracebackType | None
    ) -> None:
        self._writer.close()

    async def send(self, method: str, path: str, body: Any = None, kind: str = "application/json") -> bytes:
        """The answer's body.

        Raises:
            ValueError: the answer is not a success.
        """
        content = b"" if body is None else body if isinstance(body, bytes) else json.dumps(body).encode()
        head = f"{method} {path} HTTP/1.1\r\nHost: {HOST}\r\nOrigin: http://{HOST}\r\n"
        head += f"Content-Type: {kind}\r\nContent-Length: {len(content)}\r\n"
        self._writer.write(head.encode() + b"\r\n" + content)
        answer = await self._reader.readuntil(b"\r\n\r\n")
        length = re.search(rb"content-length: ?(\d+)", answer, re.IGNORECASE)
        found = await self._reader.readexactly(int(length[1]) if length else 0)
        if not answer.startswith(b"HTTP/1.1 2"):
            raise ValueError(f"{method} {path}: {answer.splitlines()[0]!r} {found[:300]!r}")
        return found

    async def json(self, method: str, path: str, body: Any = None) -> Any:
        return json.loads(await self.send(method, path, body))


class _Screen(asyncio.Protocol):
    """One open stream: reports the id of each message `changed`."""

    def __init__(self, screens: "Screens") -> None:
        self._screens = screens
        self._rest = b""

    def data_received(self, data: bytes) -> None:
        *whole, self._rest = (self._rest + data).split(b"\n\n")
        for message in whole:
            if b"event: changed" in message:
                found = _ID.search(message)
                self._screens.arrived(int(found[1]) if found else -1)
            elif b"event: tick" in message:
                self._screens.opened(self)


class Screens:
    """So many streams of one address. `last` says when a message had reached every one of them."""

    def __init__(self, port: int, path: str, count: int) -> None:
        self._port, self._path, self.count = port, path, count
        self._heard: dict[int, int] = {}
        self._all: dict[int, asyncio.Future[float]] = {}
        self._open: set[_Screen] = set()
        self._ready = asyncio.Event()
        self._transports: list[asyncio.Transport] = []

    async def __aenter__(self) -> Self:
        loop = asyncio.get_running_loop()
        request = f"GET {self._path} HTTP/1.1\r\nHost: {HOST}\r\nAccept: text/event-stream\r\n\r\n".encode()
        for _ in range(self.count):
            transport, _screen = await loop.create_connection(lambda: _Screen(self), HOST, self._port)
            transport.write(request)
            self._transports.append(transport)
        async with asyncio.timeout(30):
            await self._ready.wait()
        return self

    async def __aexit__(
        self, _kind: type[BaseException] | None, _error: BaseException | None, _: TracebackType | None
    ) -> None:
        for transport in self._transports:
            transport.abort()

    def opened(self, screen: _Screen) -> None:
        self._open.add(screen)
        if len(self._open) == self.count:
            self._ready.set()

    def arrived(self, number: int) -> None:
        self._heard[number] = self._heard.get(number, 0) + 1
        if self._heard[number] == self.count:
            self._told(number).set_result(time.perf_counter())

    def _told(self, number: int) -> "asyncio.Future[float]":
        return self._all.setdefault(number, asyncio.get_running_loop().create_future())

    async def last(self, number: int) -> float:
        """The `perf_counter` at which the last screen had message `number`. Raises TimeoutError after 10 s."""
        async with asyncio.timeout(10):
            return await self._told(number)
