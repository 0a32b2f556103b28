"""Errors that are answered before any route: a foreign host or origin, a body too large. It gives them their words."""

from starlette.datastructures import Headers
from starlette.responses import PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.web.errors import problem, too_large

SENTENCES = {
    400: "Leadline does not answer to this host name; use the address that it printed when it started.",
}
"""Instead of the framework's words; another status keeps its text."""


class EarlyErrors:
    """Plain-text errors, as the guards and the framework make them, become problem details (RFC 9457) for the API."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        status, text = 0, b""

        async def worded(message: Message) -> None:
            nonlocal status, text
            if message["type"] == "http.response.start" and _is_plain_error(message):
                status = message["status"]
            elif message["type"] == "http.response.body" and status:
                text += message.get("body", b"")
            else:
                await send(message)

        await self.app(scope, receive, worded)
        if status:
            await _answer(scope["path"], status, text.decode())(scope, receive, send)


def _is_plain_error(message: Message) -> bool:
    kind = Headers(raw=message["headers"]).get("content-type", "")
    return bool(message["status"] >= 400 and kind.startswith("text/plain"))


def _answer(path: str, status: int, text: str) -> Response:
    sentence = too_large(path) if status == 413 else SENTENCES.get(status, text)
    return problem(status, sentence) if path.startswith("/api/") else PlainTextResponse(sentence, status)
