"""What one connection may send and how long a request may take to arrive. It knows no route and reads no request.

uvicorn itself takes headers without end, waits for ever for the rest of half a request, and reads on and on when a body
that is too large has been answered.
"""

from asyncio import TimerHandle, Transport
from collections import deque
from http import HTTPStatus
from typing import Any

from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol, RequestResponseCycle

from app.web.safe_headers import HEADERS

LARGEST_HEAD = 64 * 1024
"""Bytes of the request line and headers together, or after a piece of the body; what comes in one read is taken."""
LARGEST_REQUEST = 64 * 1024 * 1024
"""Bytes after which somebody who goes on sending is cut off. Below it a refused file is still answered in words."""
WITHIN_S = 30.0
"""A request must be there whole within this time, counted from its first byte. Our own bounds, no source."""

PLAIN = {"Content-Type": "text/plain; charset=utf-8", "Cache-Control": "no-store"}


class BoundedProtocol(HttpToolsProtocol):
    """uvicorn's HTTP/1.1 protocol with these bounds. Streams are answers and may last as long as they like."""

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self._taken = self._since_body = 0
        self._in_head = True
        self._late: TimerHandle | None = None
        self._asked: deque[RequestResponseCycle] = deque()

    def connection_made(self, transport: Transport) -> None:  # type: ignore[override] # as uvicorn has it
        super().connection_made(transport)
        self._expect()

    def connection_lost(self, exc: Exception | None) -> None:
        self._arrived()
        self._forget()
        super().connection_lost(exc)

    def on_message_begin(self) -> None:
        self._expect()
        super().on_message_begin()

    def on_headers_complete(self) -> None:
        self._in_head = False
        super().on_headers_complete()
        while self._asked and self._asked[0].response_complete:
            self._asked.popleft()
        if self.cycle is not None:  # None where the connection is to become another kind.
            self._asked.append(self.cycle)

    def on_header(self, name: bytes, value: bytes) -> None:
        """What comes after the body in the form of headers is let go."""
        if self._in_head:
            super().on_header(name, value)

    def on_body(self, body: bytes) -> None:
        self._since_body = 0
        super().on_body(body)

    def on_message_complete(self) -> None:
        self._taken, self._since_body, self._in_head = 0, 0, True
        self._arrived()
        super().on_message_complete()

    def data_received(self, data: bytes) -> None:
        self._taken += len(data)
        self._since_body += len(data)
        super().data_received(data)
        if self._in_head and self._since_body > LARGEST_HEAD:
            self._refuse(HTTPStatus.REQUEST_HEADER_FIELDS_TOO_LARGE, "The address or the headers are too long.")
        elif self._since_body > LARGEST_HEAD or self._taken > LARGEST_REQUEST:
            self._cut()
        elif self._late is None and self._in_head and self._idle:
            self._expect()  # Blank lines before a request begin none, and have stopped the clock of an idle connection.

    def send_400_response(self, msg: str) -> None:  # noqa: ARG002 # uvicorn says it in English of its own
        """Not into the middle of another answer."""
        if self._idle:
            self._refuse(HTTPStatus.BAD_REQUEST, "This is no request as HTTP/1.1 has it.")
        else:
            self._cut()

    @property
    def _idle(self) -> bool:
        """Nothing is being answered on this connection."""
        return all(each.response_complete for each in self._asked)

    def _expect(self) -> None:
        self._arrived()
        self._late = self.loop.call_later(WITHIN_S, self._too_late)

    def _arrived(self) -> None:
        if self._late is not None:
            self._late.cancel()
            self._late = None

    def _too_late(self) -> None:
        """A route that waits for the rest of a body is told that nothing more comes."""
        if self._in_head:
            self._refuse(HTTPStatus.REQUEST_TIMEOUT, "The request did not arrive in time.")
        else:
            self._cut()

    def _cut(self) -> None:
        self._forget()
        self.transport.abort()

    def _forget(self) -> None:
        """No answer may be written to what is closed; uvicorn itself thinks of the last request only."""
        for each in self._asked:
            if not each.response_complete:
                each.disconnected = True

    def _refuse(self, status: HTTPStatus, sentence: str) -> None:
        """In words, if nothing else is being answered on this connection."""
        if self.transport.is_closing():
            return
        if self._idle:
            body = sentence.encode()
            headers = {**HEADERS, "Content-Length": len(body), "Connection": "close", **PLAIN}
            lines = [f"HTTP/1.1 {status.value} {status.phrase}", *(f"{name}: {said}" for name, said in headers.items())]
            self.transport.write("\r\n".join([*lines, "", ""]).encode() + body)
            self.transport.close()
        else:
            self._cut()
