"""Who may do what: the one table of it, and the guard that holds every request to it before anything is read.

An address that is not in the table is answered to nobody but a keeper, so what is added later is closed until it has
its row; `tests/web/test_access.py` walks every route of the application against the table.
"""

import hmac
import re
from collections.abc import Mapping
from typing import cast
from urllib.parse import quote

from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Match, compile_path
from starlette.types import ASGIApp, Receive, Scope, Send

from app.core.commands import Command, Refusal
from app.service.rights import allows
from app.web.depends import Shell
from app.web.errors import answer
from app.web.order_rights import order_needs
from app.web.visitor import VISITOR, Visitor

ANYBODY = "anybody"
"""Those who are not signed in too."""

ADDRESSES: Mapping[str, Mapping[str, str]] = {
    ANYBODY: {
        "/static/{path:path}": "GET",
        "/help": "GET",
        "/help/{page}": "GET",
        "/sign-in": "GET POST",
        "/api/sessions": "POST",
        "/api/me": "GET",
    },
    "watch": {
        "/": "GET",
        "/sign-out": "POST",
        "/password": "GET POST",
        "/procedures/template.{kind}": "GET",
        "/procedures/{revision}": "GET",
        "/procedures/{revision}/file.{kind}": "GET",
        "/procedures/{revision}/briefing": "GET",
        "/procedures/{revision}/lists": "GET",
        "/procedures/{revision}/lists/{person}": "GET",
        "/procedures/{revision}/durations": "GET",
        "/procedures/{revision}/plan.ics": "GET",
        "/runs": "GET",
        "/runs/{run}": "GET",
        "/runs/{run}/as-run.{kind}": "GET",
        "/runs/{run}/carried.yaml": "GET",
        "/runs/{run}/spare": "GET",
        "/runs/{run}/debrief": "GET",
        "/runs/{run}/debrief.html": "GET",
        "/runs/{run}/{page:path}": "GET",
        "/compare": "GET",
        "/api/docs": "GET",
        "/api/openapi.json": "GET",
        "/api/session": "DELETE",
        "/api/time": "GET",
        "/api/live": "GET",
        "/api/procedures": "GET",
        "/api/procedures/{revision}/plan": "GET",
        "/api/procedures/{revision}/durations": "GET",
        "/api/runs": "GET",
        "/api/runs/{run}": "GET",
        "/api/runs/{run}/carried": "GET",
        "/api/runs/{run}/events": "GET",
        "/api/runs/{run}/live": "GET",
        "/api/runs/{run}/outlook": "GET",
        "/api/runs/{run}/what-if": "GET",
        "/api/runs/{run}/watch": "GET",
        "/api/runs/{run}/debrief": "GET",
        "/api/compare": "GET",
    },
    "mark": {
        "/name": "POST",
        "/runs/{run}/orders": "POST",
        "/api/runs/{run}/marks": "POST",
        "/api/runs/{run}/orders": "POST",
    },
    "lead": {
        "/procedures": "POST",
        "/procedures/{revision}/durations": "POST",
        "/runs": "POST",
        "/runs/import": "POST",
        "/api/procedures": "POST",
        "/api/runs": "POST",
    },
    "train": {
        "/runs/{run}/trainer": "GET",
    },
    "keep": {
        "/people": "GET POST",
    },
}
"""The least right that an address needs, with its methods; each right includes those that stand before it."""

TOKEN_HEADER = "X-Leadline-Token"

_WORDS = {
    "watch": "look",
    "mark": "mark steps",
    "lead": "decide as the flight lead does",
    "train": "train others",
    "keep": "keep people",
}
LONGEST_NEXT = 1_500
"""A longer address is not led back to after signing in."""

_FORMS = ("application/x-www-form-urlencoded", "multipart/form-data")
_READS = {"GET", "HEAD", "OPTIONS"}


def _compiled() -> tuple[tuple[re.Pattern[str], frozenset[str], str], ...]:
    return tuple(
        (compile_path(path)[0], frozenset(methods.split()), right)
        for right, addresses in ADDRESSES.items()
        for path, methods in addresses.items()
    )


_ROWS = _compiled()


def needs(method: str, path: str) -> str:
    """The least right for a request; ``keep`` for an address that the table does not have."""
    asked = "GET" if method in _READS else method
    rights = [right for pattern, methods, right in _ROWS if asked in methods and pattern.match(path)]
    # A general address lies over particular ones (a page of a run over the trainer's), which may need more.
    return rights[-1] if rights else "keep"


def may_order(visitor: Visitor, command: Command) -> None:
    """Raises Refusal ``not-allowed``: this one may not give this order."""
    needed = order_needs(command)
    if not visitor.may or not allows(visitor.may, needed):
        raise Refusal("not-allowed", not_allowed(visitor, needed))


def not_allowed(visitor: Visitor, needed: str) -> str:
    return (
        f"That is for those who may {_WORDS[needed]}; {visitor.name or 'you'} may {_WORDS.get(visitor.may, 'not')}. "
        "Ask your keeper if that should be otherwise."
    )


class Access:
    """Finds who asks, and lets through what the table allows."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request = Request(scope)
        visitor = find(request)
        scope["state"]["visitor"] = visitor
        scope["state"]["session"] = visitor.session
        VISITOR.set(visitor)
        refused = _refusal(request, visitor)
        await (refused or self.app)(scope, receive, send)


def find(request: Request) -> Visitor:
    """Who asks: by the header ``Authorization: Bearer`` or the cookie; without accounts, whoever is at this machine."""
    shell = cast(Shell, request.app.state.shell)
    people, station = shell.people, request.state.station
    if people.none and shell.alone:
        return Visitor("", "keep", True, people.form_token(station), station)
    bearer = _bearer(request.headers)
    found = people.who(bearer or request.cookies.get(shell.session_cookie(request), ""))
    if found is None:
        return Visitor("", "", False, people.form_token(station), station)
    person, session = found
    token = people.form_token(session.token)
    return Visitor(person.name, person.may, False, token, station, session.token, bool(bearer))


async def token_checked(request: Request) -> None:
    """A dependency of every route: what changes something carries the token of its session, which still lasts.

    What comes with the header ``Authorization`` needs none, for no page of another site can send that; nor does what a
    program sends where there are no accounts, or to sign in: there its Origin is all that there is to check.

    Raises:
        HTTPException: 403, no token or another one; 401, the session ended while the body came.
    """
    visitor: Visitor = request.state.visitor
    path = request.scope["path"]
    if request.method in _READS:
        return
    field = await _field(request, "token")  # Read in any case: what is looked up below must hold after the last byte.
    token = request.headers.get(TOKEN_HEADER) or field
    excused = visitor.bearer or path == "/api/sessions" or (visitor.open and path.startswith("/api/"))
    if not excused and not hmac.compare_digest(token.encode("utf-8", "replace"), visitor.token.encode()):
        raise HTTPException(403, "This page is from before you signed in or out. Load it anew; nothing was done.")
    # The body may have been half a minute on its way, and whoever sent the first half may have been signed out since.
    if find(request) != visitor:
        raise HTTPException(401, "You were signed out, or your rights were changed, meanwhile; nothing was done.")


async def _field(request: Request, name: str) -> str:
    """A text field of a page's form. Whatever the body is, it has been read when this returns."""
    is_form = request.headers.get("content-type", "").lower().startswith(_FORMS)
    if not is_form or request.scope["path"].startswith("/api/"):
        await request.body()
        return ""
    found = (await request.form()).get(name)
    return found if isinstance(found, str) else ""


def _bearer(headers: Headers) -> str:
    kind, _, token = headers.get("authorization", "").partition(" ")
    return token.strip() if kind.lower() == "bearer" else ""


def _refusal(request: Request, visitor: Visitor) -> Response | None:
    needed = needs(request.method, request.scope["path"])
    if needed == ANYBODY:
        return None
    if not visitor.may:
        return _signed_out(request)
    if allows(visitor.may, needed) or not _leads_somewhere(request):
        return None
    return answer(request, 403, not_allowed(visitor, needed), code="not-allowed")


def _leads_somewhere(request: Request) -> bool:
    """Whether a route would answer. What is not there is told as not there, whoever asks."""
    return any(route.matches(request.scope)[0] is Match.FULL for route in request.app.routes)


def _signed_out(request: Request) -> Response:
    path = request.scope["path"]
    if path.startswith("/api") or "HX-Request" in request.headers or request.method not in _READS:
        refused = answer(request, 401, "Sign in first: nobody is signed in at this station.", code="signed-out")
        refused.headers["WWW-Authenticate"] = "Bearer"
        return refused
    here = path + (f"?{request.url.query}" if request.url.query else "")
    if len(here) > LONGEST_NEXT:
        here = path if len(path) <= LONGEST_NEXT else "/"
    return RedirectResponse(f"/sign-in?next={quote(here, safe='')}", 303)
