"""What every request and answer passes: hosts, origins, headers, and the label of the station. It knows no run."""

import re
import secrets
from collections.abc import MutableMapping
from http.cookies import CookieError, SimpleCookie
from urllib.parse import urlsplit

from fastapi import FastAPI
from starlette.datastructures import Headers, MutableHeaders
from starlette.middleware.body_limit import RequestBodyLimitMiddleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.web.early_errors import EarlyErrors

STATION_COOKIE = "leadline_station"
_STATION = re.compile(r"[0-9a-f]{6}")
LOCAL_HOSTS = ("127.0.0.1", "localhost", "[::1]", "::1")

HEADERS = {
    # Everything comes from this server; no inline script or style; nobody may frame the page.
    "Content-Security-Policy": "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
}


def install(app: FastAPI, host: str, largest_body: int) -> None:
    """Put the guards around the application; the last one added is the first one passed. `largest_body` is in bytes."""
    app.add_middleware(RequestBodyLimitMiddleware, max_body_size=largest_body)
    app.add_middleware(Stations)
    app.add_middleware(Origins)
    app.add_middleware(TrustedHostMiddleware, allowed_hosts=[*LOCAL_HOSTS, host])
    app.add_middleware(EarlyErrors)
    app.add_middleware(SafeHeaders)


class SafeHeaders:
    """HEADERS on every answer; ``no-store`` on everything but static files, which carry a version in their address."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        static = scope["path"].startswith("/static/")

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                headers.setdefault("Cache-Control", "max-age=31536000, immutable" if static else "no-store")
            await send(message)

        await self.app(scope, receive, with_headers)


class Origins:
    """A POST that a page of another origin sends is refused. A POST without Origin is a program's, not a page's."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and scope["method"] not in {"GET", "HEAD", "OPTIONS"}:
            headers = Headers(scope=scope)
            origin = headers.get("origin")
            foreign = origin is not None and _netloc(origin) != headers.get("host")
            if foreign or headers.get("sec-fetch-site") in {"cross-site", "same-site"}:
                await PlainTextResponse("This form was sent by another site; it was refused.", 403)(
                    scope, receive, send
                )
                return
        await self.app(scope, receive, send)


def _netloc(origin: str) -> str | None:
    try:
        return urlsplit(origin).netloc
    except ValueError:  # A bracket that is never closed, for one.
        return None


class Stations:
    """Gives each browser a short random label, `request.state.station`, kept in a cookie."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        known = _station(Headers(scope=scope).get("cookie", ""))
        state: MutableMapping[str, object] = scope.setdefault("state", {})
        station = state["station"] = known or secrets.token_hex(3)

        async def with_cookie(message: Message) -> None:
            if (
                message["type"] == "http.response.start"
                and not known
                and not scope["path"].startswith(("/static", "/api"))
            ):
                cookie = f"{STATION_COOKIE}={station}; Path=/; Max-Age=34560000; HttpOnly; SameSite=Strict"
                MutableHeaders(scope=message).append("Set-Cookie", cookie)
            await send(message)

        await self.app(scope, receive, with_cookie)


def _station(cookies: str) -> str | None:
    try:
        found = SimpleCookie(cookies).get(STATION_COOKIE)
    except CookieError:
        return None
    return found.value if found is not None and _STATION.fullmatch(found.value) else None
