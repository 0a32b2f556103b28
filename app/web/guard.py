"""What every request and answer passes: hosts, origins, headers, and the label of the station. It knows no run.

`SameSite=Lax` is enough for the cookies: what changes something must have our own Origin, and a token as well, and a
GET changes nothing. With Strict a link from a wiki or a chat would lead somebody who is signed in to the sign-in.
"""

import ipaddress
import re
import secrets
from collections.abc import Iterable, Mapping, MutableMapping

from fastapi import FastAPI
from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from uvicorn.middleware.proxy_headers import ProxyHeadersMiddleware

from app.settings import Settings
from app.web.access import Access
from app.web.addresses import STREAMS
from app.web.body_limit import BodyLimits
from app.web.depends import cookie_name
from app.web.early_errors import EarlyErrors
from app.web.host_names import plain
from app.web.safe_headers import make_safe
from app.web.strict_forms import StrictForms

STATION_COOKIE = "leadline_station"
"""See `depends.cookie_name`."""
_STATION = re.compile(r"[0-9a-f]{6}")
LOCAL_HOSTS = ("127.0.0.1", "localhost", "[::1]", "::1")

FOREIGN = "This form was sent by another site; it was refused."
OTHER_SCHEME = (
    "The page of this form came by {theirs}, and the form by {ours}; it was refused. If a proxy stands before "
    "Leadline, its keeper names the proxy's address with --behind, and has the proxy say X-Forwarded-Proto."
)
NO_ORIGIN = (
    "It was not said which page this comes from; it was refused. A program sends the header “Origin: {ours}”, or where "
    "people sign in, “Authorization: Bearer …”."
)


def install(app: FastAPI, settings: Settings, largest_body: int, larger_at: Mapping[str, int]) -> None:
    """Put the guards around the application; the last one added is the first one passed.

    `largest_body` is in bytes; `larger_at` has the paths that take larger ones.
    """
    app.add_middleware(StrictForms)
    app.add_middleware(BodyLimits, most=largest_body, at=larger_at)
    app.add_middleware(Access)
    app.add_middleware(Stations)
    app.add_middleware(Origins)
    app.add_middleware(KnownHosts, names=(settings.host, *settings.known_as))
    if settings.behind:
        app.add_middleware(ProxyHeadersMiddleware, trusted_hosts=_both_forms(settings.behind))
    app.add_middleware(EarlyErrors)
    app.add_middleware(HeadAsGet)
    app.add_middleware(SafeHeaders)


def _both_forms(addresses: Iterable[str]) -> list[str]:
    """A proxy's IPv4 address also as it looks to a socket of both kinds (RFC 4291, 2.5.5.2)."""
    found = [plain(each) for each in addresses]
    return [*found, *(f"::ffff:{each}" for each in found if ":" not in each)]


class SafeHeaders:
    """Safe headers on every answer; ``no-store`` on all but static files, which carry a version in their address."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        static = scope["path"].startswith("/static/")

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                make_safe(MutableHeaders(scope=message), kept=static and message["status"] < 400)
            await send(message)

        await self.app(scope, receive, with_headers)


class HeadAsGet:
    """Answers HEAD as GET, without the body (RFC 9110, 9.3.2). Not of a stream: that one would be made without end."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["method"] != "HEAD" or STREAMS.fullmatch(scope["path"]):
            await self.app(scope, receive, send)
            return

        async def without_body(message: Message) -> None:
            await send({**message, "body": b""} if message["type"] == "http.response.body" else message)

        await self.app({**scope, "method": "GET"}, receive, without_body)


class KnownHosts:
    """Refuses a request for a name that is not ours: a page elsewhere may have made its own name lead here.

    Ours are this machine's own, those it was started with, and the very address at which the request arrived, which
    counts where the server listens at all addresses (as ``0.0.0.0``).
    """

    def __init__(self, app: ASGIApp, names: tuple[str, ...]) -> None:
        self.app = app
        self._names = {plain(name) for name in (*LOCAL_HOSTS, *names)}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] in {"http", "websocket"}:
            hosts = Headers(scope=scope).getlist("host")
            asked = _without_port(hosts[0]) if len(hosts) == 1 else ""  # More than one is refused (RFC 9112, 3.2).
            arrived_at = (scope.get("server") or ("",))[0]
            if plain(asked) not in self._names and not _same_address(asked.strip("[]"), arrived_at):
                await PlainTextResponse("Invalid host header", 400)(scope, receive, send)
                return
        await self.app(scope, receive, send)


def _same_address(asked: str, arrived_at: str) -> bool:
    """An IPv4 request to a socket of both kinds arrives at ``::ffff:`` and its address (RFC 4291, 2.5.5.2)."""
    try:
        wanted, found = ipaddress.ip_address(asked), ipaddress.ip_address(arrived_at)
    except ValueError:
        return False
    return wanted in (found, getattr(found, "ipv4_mapped", None))


def _without_port(host: str) -> str:
    """RFC 3986, 3.2.2: an IPv6 address stands in brackets, so only a colon after them begins a port."""
    name, colon, port = host.rpartition(":")
    return name if colon and port.isdigit() and not (":" in name and not name.endswith("]")) else host


class Origins:
    """What changes something must come from a page of ours, and say so: its Origin is this very server's.

    A browser sends the header with each such request. A program that has signed in needs none (see `access`).
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and scope["method"] not in {"GET", "HEAD", "OPTIONS"}:
            headers = Headers(scope=scope)
            origin = headers.get("origin")
            ours = f"{scope['scheme']}://{headers.get('host', '')}"
            is_program = origin is None and headers.get("authorization", "")[:7].lower() == "bearer "
            foreign = origin is not None and origin.lower() != ours.lower()
            if foreign or headers.get("sec-fetch-site") in {"cross-site", "same-site"}:
                await PlainTextResponse(_foreign(origin or "", ours), 403)(scope, receive, send)
                return
            if origin is None and not is_program:
                await PlainTextResponse(NO_ORIGIN.format(ours=ours), 403)(scope, receive, send)
                return
        await self.app(scope, receive, send)


def _foreign(origin: str, ours: str) -> str:
    theirs, _, page_host = origin.lower().partition("://")
    scheme, _, host = ours.lower().partition("://")
    if page_host == host and theirs != scheme:
        return OTHER_SCHEME.format(theirs=theirs, ours=scheme)
    return FOREIGN


class Stations:
    """Gives each browser a short random label, `request.state.station`, kept in a cookie."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers, is_sealed = Headers(scope=scope), scope["scheme"] == "https"
        name = cookie_name(STATION_COOKIE, is_sealed)
        known = _station(headers.get("cookie", ""), name)
        state: MutableMapping[str, object] = scope.setdefault("state", {})
        station = state["station"] = known or secrets.token_hex(3)
        is_told = bool(known) or scope["path"].startswith(("/static", "/api")) or _is_embedded(headers)

        async def with_cookie(message: Message) -> None:
            if message["type"] == "http.response.start" and not is_told:
                cookie = f"{name}={station}; Path=/; Max-Age=34560000; HttpOnly; SameSite=Lax"
                MutableHeaders(scope=message).append("Set-Cookie", cookie + ("; Secure" if is_sealed else ""))
            await send(message)

        await self.app(scope, receive, with_cookie)


def _is_embedded(headers: Headers) -> bool:
    """Whether a page of another site asks for a picture or a frame: no cookie comes along, and none is to be set."""
    return headers.get("sec-fetch-site") == "cross-site" and headers.get("sec-fetch-dest") != "document"


def _station(cookies: str, name: str) -> str | None:
    """As a browser reads them: another server of this host may have set cookies of any shape."""
    found = cookie_parser(cookies).get(name, "")
    return found if _STATION.fullmatch(found) else None
