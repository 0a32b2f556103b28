"""A cable between a browser and a real server that can be cut, go dead, and answer in the server's place. It
understands no HTTP beyond the first line of a request.

A browser's shared worker asks for the stream, and what a worker asks no route of the page's can stand in the way of.
"""

import asyncio
import re
import threading
from collections.abc import Coroutine
from contextlib import suppress
from http import HTTPStatus
from typing import Any, Self

HOST = "127.0.0.1"
_REQUEST = re.compile(rb"(GET|POST|HEAD|DELETE) (\S+) HTTP/1\.1\r\n")


class _Call:
    """One connection and its two ends. One that is dead carries nothing more and is not closed either."""

    def __init__(self, near: asyncio.StreamWriter, far: asyncio.StreamWriter) -> None:
        self.near, self.far = near, far
        self.asked = ""
        self.waits = False  # for the beginning of an answer
        self.dead = False

    def close(self) -> None:
        self.near.close()
        self.far.close()


class Cable:
    """Passes bytes from a port of its own to a server's. Its loop runs in a thread, its methods are called from any.

    Attributes:
        port: where the browser calls.
        asked: the address of each request so far that reached it.
        refused: how many requests for a stream were answered in the server's place.
    """

    def __init__(self, to_port: int) -> None:
        self.port = 0
        self.asked: list[str] = []
        self.refused = 0
        self._to_port = to_port
        self._calls: set[_Call] = set()
        self._dead = False
        self._status, self._times = 0, 0
        self._pace: int | None = None
        self._held: list[tuple[_Call, bytes]] | None = None
        self._lag_s = 0.0
        self._loop = asyncio.new_event_loop()
        self._server: asyncio.Server | None = None
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True)

    @property
    def address(self) -> str:
        return f"http://{HOST}:{self.port}"

    def __enter__(self) -> Self:
        self._thread.start()
        self._do(self._listen())
        return self

    def __exit__(self, *_: object) -> None:
        self._do(self._end())
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(10)
        self._loop.close()

    # What happens to a cable

    def cut(self) -> None:
        """End every connection, and refuse new ones."""
        self._do(self._cut())

    def go_dead(self) -> None:
        """No byte passes any more, and nobody is told: neither those that are connected nor who calls from here on."""
        self._do(self._go_dead())

    def restore(self) -> None:
        """Who calls from here on is put through. What went dead stays dead."""
        self._do(self._restore())

    def answer(self, status: int, times: int) -> None:
        """End the open streams, and answer the next so many requests for one like that.

        With 401 those for who is signed in as well, and they count.
        """
        self._do(self._answer(status, times))

    def slow(self, bytes_per_s: int | None) -> None:
        """Let streams say no more than so many bytes in a second; the rest waits its turn. None: as they like."""
        self._pace = bytes_per_s

    def lag(self, seconds: float) -> None:
        """Let every answer, but what a stream says, be so much later."""
        self._lag_s = seconds

    def hold(self) -> None:
        """Keep what streams say from now on on the way."""
        self._held = []

    def deliver(self) -> int:
        """Hand over what was held, also to what has gone dead since. Returns how many pieces that were."""
        held, self._held = self._held or [], None
        for call, data in held:
            self._loop.call_soon_threadsafe(call.near.write, data)
        return len(held)

    def streams(self) -> int:
        """How many streams are open, dead ones not counted."""
        return sum(1 for call in tuple(self._calls) if is_stream(call.asked) and not call.dead)

    # In the loop's thread

    def _do(self, what: Coroutine[Any, Any, None]) -> None:
        asyncio.run_coroutine_threadsafe(what, self._loop).result(10)

    async def _listen(self) -> None:
        self._server = await asyncio.start_server(self._called, HOST, self.port, reuse_address=True)
        self.port = self._server.sockets[0].getsockname()[1]

    async def _cut(self) -> None:
        if self._server is not None:
            self._server.close()
            self._server = None
        for call in tuple(self._calls):
            call.near.transport.abort()
            call.close()
        await asyncio.sleep(0.05)  # The ends are told in the loop's next passes.

    async def _end(self) -> None:
        await self._cut()
        passing = asyncio.all_tasks() - {asyncio.current_task()}
        for each in passing:
            each.cancel()
        await asyncio.gather(*passing, return_exceptions=True)

    async def _go_dead(self) -> None:
        self._dead = True
        for call in self._calls:
            call.dead = True

    async def _restore(self) -> None:
        self._dead = False
        if self._server is None:
            await self._listen()

    async def _answer(self, status: int, times: int) -> None:
        self._status, self._times = status, times
        for call in tuple(self._calls):
            if is_stream(call.asked):
                call.close()

    async def _called(self, near_reader: asyncio.StreamReader, near: asyncio.StreamWriter) -> None:
        try:
            far_reader, far = await asyncio.open_connection(HOST, self._to_port)
        except OSError:
            near.transport.abort()
            return
        call = _Call(near, far)
        call.dead = self._dead
        self._calls.add(call)
        try:
            with suppress(asyncio.CancelledError):  # At the end of the cable.
                await asyncio.gather(self._out(near_reader, call), self._back(far_reader, call))
        finally:
            self._calls.discard(call)

    async def _out(self, reader: asyncio.StreamReader, call: _Call) -> None:
        with suppress(OSError):
            while data := await reader.read(1 << 16):
                if call.dead:
                    continue
                if self._is_refused(data, call):
                    break
                call.far.write(data)
                await call.far.drain()
        call.close()

    def _is_refused(self, data: bytes, call: _Call) -> bool:
        """Whether a request was answered here."""
        request = _REQUEST.match(data)
        if request is None:
            return False
        call.asked, call.waits = request[2].decode(), True
        self.asked.append(call.asked)
        asks_who = self._status == HTTPStatus.UNAUTHORIZED and call.asked == "/api/me"
        if not self._times or not (is_stream(call.asked) or asks_who):
            return False
        self._times -= 1
        self.refused += is_stream(call.asked)
        said = f"HTTP/1.1 {self._status} {HTTPStatus(self._status).phrase}"
        call.near.write(f"{said}\r\nContent-Length: 0\r\nConnection: close\r\n\r\n".encode())
        return True

    async def _back(self, reader: asyncio.StreamReader, call: _Call) -> None:
        with suppress(OSError):
            while data := await reader.read(self._pace or 1 << 16):
                if call.dead:
                    continue
                if is_stream(call.asked):
                    if self._held is not None:
                        self._held.append((call, data))
                        continue
                    await asyncio.sleep(len(data) / self._pace if self._pace else 0)
                elif call.waits:
                    call.waits = False
                    await asyncio.sleep(self._lag_s)
                call.near.write(data)
                await call.near.drain()
        if not call.dead:
            call.close()


def is_stream(asked: str) -> bool:
    """Whether this is the address of a live stream."""
    return re.fullmatch(r"/api/(live|runs/\d+/live)(\?.*)?", asked) is not None
