"""A client over one kept-open connection, which can also send and go away. It judges no answer."""

import json
import re
import socket
import time
from dataclasses import dataclass
from http.client import HTTPConnection, HTTPException, HTTPResponse
from types import TracebackType
from typing import Any, Self

from app.web.guard import STATION_COOKIE
from tests.harm.server import HOST

JSON = "application/json"
FORM = "application/x-www-form-urlencoded"
COOKIE = f"{STATION_COOKIE}=5ad0f7"
"""Of a browser that was here before: the token of its forms goes with it."""

IDLE_S = 2
"""The server closes a connection on which nothing was asked for 5 s; a client that comes later makes a new one."""


class NoAnswer(Exception):
    """The connection ended before the whole answer was there. What was sent may have been done."""


@dataclass(frozen=True, slots=True)
class Answer:
    status: int
    kind: str
    body: bytes

    def json(self) -> Any:
        return json.loads(self.body)

    @property
    def text(self) -> str:
        return self.body.decode("utf-8", "replace")


class Line:
    """One connection, made when it is first needed and again after it was lost. One request at a time."""

    def __init__(self, port: int, timeout_s: float = 10) -> None:
        self._port = port
        self._timeout_s = timeout_s
        self._connection: HTTPConnection | None = None
        self._used = 0.0

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _error: BaseException | None, _: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        if self._connection is not None:
            self._connection.close()
        self._connection = None

    def send(self, method: str, path: str, body: bytes | None = None, **headers: str) -> None:
        """Send a request and read nothing. Header names are written with ``_`` for ``-``.

        Raises:
            NoAnswer: there is no server, or the connection was lost.
        """
        said = {"Origin": f"http://{HOST}:{self._port}"} if method != "GET" else {}
        said |= {name.replace("_", "-"): value for name, value in headers.items()}
        if time.monotonic() > self._used + IDLE_S:
            self.close()
        self._used = time.monotonic()
        try:
            if self._connection is None:
                self._connection = HTTPConnection(HOST, self._port, timeout=self._timeout_s)
            self._connection.request(method, path, body, said)
        except (OSError, HTTPException) as error:
            self.close()
            raise NoAnswer(str(error)) from error

    def read(self) -> Answer:
        """The answer to what was sent. Raises NoAnswer."""
        assert self._connection is not None
        try:
            return _answer(self._connection.getresponse())
        except (OSError, HTTPException) as error:
            self.close()
            raise NoAnswer(str(error)) from error

    def get(self, path: str, **headers: str) -> Answer:
        self.send("GET", path, None, **headers)
        return self.read()

    def begin(self, path: str, said: Any) -> None:
        """Post a JSON value and read nothing yet. Raises NoAnswer."""
        self.send("POST", path, json.dumps(said).encode(), Content_Type=JSON)

    def post(self, path: str, said: Any) -> Answer:
        """Post a JSON value. Raises NoAnswer."""
        self.begin(path, said)
        return self.read()

    def done(self, path: str, said: Any = None) -> Any:
        """What a GET, or with `said` a POST, was answered with. Raises AssertionError unless it is a success."""
        answer = self.get(path) if said is None else self.post(path, said)
        assert answer.status in (200, 201), f"{path}: {answer.status} {answer.text[:300]}"
        return answer.json()

    def drop(self) -> None:
        """Go away without reading: with a reset where there is something unread, as a cut cable leaves it."""
        if self._connection is not None and self._connection.sock is not None:
            self._connection.sock.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\1\0\0\0\0\0\0\0")
        self.close()


def _answer(response: HTTPResponse) -> Answer:
    return Answer(response.status, response.headers.get_content_type(), response.read())


def start_run(line: Line, procedure: str, running: str = "1:00:00") -> int:
    """A rehearsal whose clock has been running for so long."""
    return int(line.done("/api/runs", {"procedure": procedure, "kind": "rehearsal", "running": running})["run"])


def token(line: Line) -> str:
    """What each form of a page carries, for the browser of COOKIE."""
    found = re.search(r'data-token="([^"]*)"', line.get("/", Cookie=COOKIE).text)
    return found[1] if found else ""
