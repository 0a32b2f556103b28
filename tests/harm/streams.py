"""Raw clients of the live stream: they read what comes, or hold a stream open and do not read. They judge nothing."""

import socket
import time
from collections.abc import Generator

from tests.harm.server import HOST


def stream(port: int, path: str, room: int | None = None) -> socket.socket:
    """An open stream. `room`: bytes that the kernel may keep for a reader that reads slowly."""
    made = socket.socket()
    if room is not None:
        made.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, room)
    made.connect((HOST, port))
    made.sendall(f"GET {path} HTTP/1.1\r\nHost: {HOST}:{port}\r\nAccept: text/event-stream\r\n\r\n".encode())
    return made


def messages(port: int, path: str, within_s: float) -> Generator[tuple[float, bytes], None, None]:
    """(monotonic moment at which it was there, message) until the stream ends or the time is over."""
    until, rest = time.monotonic() + within_s, b""
    with stream(port, path) as source:
        while (left := until - time.monotonic()) > 0:
            source.settimeout(left)
            try:
                data = source.recv(1 << 16)
            except TimeoutError:
                return
            if not data:
                return
            now = time.monotonic()
            *whole, rest = (rest + data).split(b"\n\n")
            yield from ((now, each) for each in whole)


def ticks(port: int, run: int, within_s: float) -> int:
    """How many ticks a screen of this run is told in so many seconds."""
    return sum(b"event: tick" in each for _, each in messages(port, f"/api/runs/{run}/live", within_s))
