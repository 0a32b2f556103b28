"""What one connection may send and for how long: on real sockets, with bounds made small. The application is a stub."""

import asyncio
import logging
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import suppress
from functools import partial

import pytest
import uvicorn
from starlette.types import Message, Receive, Scope, Send

from app import bounds
from app.bounds import BoundedProtocol

HEAD = b"GET / HTTP/1.1\r\nHost: x\r\n"
POST = b"POST / HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\n"
SLOW = b"GET /slow HTTP/1.1\r\nHost: x\r\n\r\n"
WITHIN_S = 0.4
SOON_S = 20
"""Far more than any of it takes; less than for ever."""


class Application:
    """Reads the whole body and says how long it was; notes what it was told. `/slow` takes its time to answer."""

    def __init__(self) -> None:
        self.told: list[Message] = []

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        size = 0
        while True:
            message = await receive()
            self.told.append(message)
            size += len(message.get("body", b""))
            if not message.get("more_body", False):
                break
        said = f"{size} {len(scope['headers'])}".encode()
        await send({"type": "http.response.start", "status": 200, "headers": [(b"content-length", b"%d" % len(said))]})
        if scope["path"] == "/slow":
            await asyncio.sleep(3 * WITHIN_S)
        await send({"type": "http.response.body", "body": said})


@pytest.fixture
def application() -> Application:
    return Application()


@pytest.fixture
def port(application: Application, monkeypatch: pytest.MonkeyPatch) -> Iterator[int]:
    """A server with a tenth of the bounds, in a thread of this process."""
    monkeypatch.setattr(bounds, "WITHIN_S", WITHIN_S)
    monkeypatch.setattr(bounds, "LARGEST_REQUEST", 2_000_000)
    config = uvicorn.Config(application, http=BoundedProtocol, ws="none", lifespan="off", log_config=None)
    server = uvicorn.Server(config)
    with socket.create_server(("127.0.0.1", 0)) as listening:
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
        thread.start()
        while not server.started:
            time.sleep(0.01)
        yield listening.getsockname()[1]
        server.should_exit = True
        thread.join(SOON_S)
        assert not thread.is_alive()


def sent(port: int, *pieces: bytes, times: int = 1) -> bytes:
    """What comes back until the server closes the connection; the last piece is sent so many times, if it is let."""
    with socket.create_connection(("127.0.0.1", port), SOON_S) as connection:
        with suppress(ConnectionError):
            for piece in (*pieces[:-1], *pieces[-1:] * times):
                connection.sendall(piece)
        said = b""
        with suppress(ConnectionError):
            while piece := connection.recv(65_536):
                said += piece
        return said


def heard(connection: socket.socket, end: bytes) -> bytes:
    """What comes until it ends so: the head of an answer and its body may come apart."""
    said = b""
    while not said.endswith(end) and (piece := connection.recv(65_536)):
        said += piece
    return said


ENDLESS = {
    "headers": (HEAD, b"X-a: " + b"a" * 1_000 + b"\r\n"),
    "one header": (HEAD + b"X-a: ", b"a" * 1_000),
    "an address": (b"GET /", b"a" * 1_000),
    "blank lines": (b"", b"\r\n" * 500),
    "a body": (POST, b"3e8\r\n" + b"a" * 1_000 + b"\r\n"),
    "a piece of a body": (b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 1000000000\r\n\r\n", b"a" * 1_000),
    "trailers": (POST + b"2\r\n{}\r\n0\r\n", b"X-a: " + b"a" * 1_000 + b"\r\n"),
    "one trailer": (POST + b"2\r\n{}\r\n0\r\nX-a: ", b"a" * 1_000),
    "remarks on a piece": (POST + b"2;", b"a" * 1_000),
}


@pytest.mark.parametrize("what", ENDLESS)
def test_what_has_no_end_is_ended(port: int, what: str) -> None:
    """Some 100 MB would be sent, if it were taken."""
    sent(port, *ENDLESS[what], times=100_000)
    assert sent(port, HEAD + b"Connection: close\r\n\r\n").endswith(b"0 2")


@pytest.mark.parametrize("what", ["headers", "one header", "an address"])
def test_a_head_that_is_too_long_is_refused_in_words(port: int, what: str) -> None:
    first, more = ENDLESS[what]
    said = sent(port, first, more * (bounds.LARGEST_HEAD // len(more) + 1))
    assert said.startswith(b"HTTP/1.1 431 ")
    assert said.endswith(b"too long.")


@pytest.mark.parametrize("half", [b"", b"\r\n", b"GET / HT", HEAD, HEAD + b"X"])
def test_half_a_head_is_not_waited_for(port: int, half: bytes) -> None:
    said = sent(port, half)
    assert said.startswith(b"HTTP/1.1 408 ")
    assert b"\r\nContent-Security-Policy: default-src 'self'" in said
    assert said.endswith(b"in time.")


@pytest.mark.parametrize(
    "half", [b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 9\r\n\r\n{", POST, POST + b"2\r\n{}\r\n"]
)
def test_half_a_body_is_not_waited_for_and_the_route_is_told(port: int, half: bytes, application: Application) -> None:
    assert sent(port, half) == b""
    until = time.monotonic() + SOON_S
    while {"type": "http.disconnect"} not in application.told and time.monotonic() < until:
        time.sleep(0.01)  # The connection is closed first.
    assert application.told[-1] == {"type": "http.disconnect"}


def test_a_body_that_comes_drop_by_drop_is_not_waited_for(port: int) -> None:
    with socket.create_connection(("127.0.0.1", port), SOON_S) as connection:
        connection.sendall(POST)
        until = time.monotonic() + SOON_S
        cut = False
        while not cut and time.monotonic() < until:
            time.sleep(WITHIN_S / 8)
            try:
                connection.sendall(b"1\r\na\r\n")
            except ConnectionError:
                cut = True
        assert cut


def test_blank_lines_do_not_keep_an_idle_connection(port: int) -> None:
    with socket.create_connection(("127.0.0.1", port), SOON_S) as connection:
        connection.sendall(HEAD + b"\r\n")
        assert heard(connection, b"0 1").endswith(b"0 1")
        connection.sendall(b"\r\n")
        assert connection.recv(65_536).startswith(b"HTTP/1.1 408 ")


def test_an_answer_may_take_longer_than_a_request(port: int) -> None:
    assert sent(port, b"GET /slow HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n").endswith(b"0 2")


def test_many_requests_of_one_connection_are_each_counted_anew(port: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bounds, "WITHIN_S", SOON_S)  # The bytes are counted here, not the seconds.
    with socket.create_connection(("127.0.0.1", port), SOON_S) as connection:
        for _ in range(5):
            connection.sendall(b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 900000\r\n\r\n" + b"a" * 900_000)
            assert heard(connection, b"900000 2").endswith(b"900000 2")


def test_what_stands_behind_a_body_is_no_header(port: int) -> None:
    said = sent(port, POST.replace(b"Host", b"Connection: close\r\nHost") + b"2\r\n{}\r\n0\r\nX-Evil: 1\r\n\r\n")
    assert said.endswith(b"2 3")


@pytest.mark.parametrize("upgrade", [b"websocket", b"h2c"])
def test_there_is_no_other_protocol_to_change_to(port: int, upgrade: bytes) -> None:
    said = sent(port, HEAD + b"Connection: Upgrade, close\r\nUpgrade: " + upgrade + b"\r\n\r\n")
    assert said.startswith(b"HTTP/1.1 200 ")


def test_who_asks_much_at_once_and_goes_leaves_no_error(port: int, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.ERROR):
        with socket.create_connection(("127.0.0.1", port), SOON_S) as connection:
            connection.sendall(SLOW + (HEAD + b"\r\n") * 100)
            assert connection.recv(65_536).startswith(b"HTTP/1.1 200 ")
        assert sent(port, SLOW.replace(b"Host", b"Connection: close\r\nHost")).endswith(b"0 2")
    assert caplog.records == []


def test_nonsense_is_not_answered_in_the_middle_of_an_answer(port: int, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.ERROR):
        with socket.create_connection(("127.0.0.1", port), SOON_S) as connection:
            connection.sendall(SLOW)
            assert connection.recv(65_536).startswith(b"HTTP/1.1 200 ")
            connection.sendall(b"\x16\x03\x01 nonsense\r\n\r\n")
            with suppress(ConnectionError):
                assert b"HTTP/1.1" not in b"".join(iter(partial(connection.recv, 65_536), b""))
        assert sent(port, HEAD + b"Connection: close\r\n\r\n").endswith(b"0 2")
    assert caplog.records == []
