"""The JSON API of signing in and out. Accounts themselves are kept by the page, and by the command line."""

from typing import Any

from fastapi import APIRouter, HTTPException, Request, Response

from app.core.times import instant
from app.web.depends import ShellDep
from app.web.schemas import PROBLEM
from app.web.schemas_people import MeOut, SessionIn, SessionOut
from app.web.signing_in import signed_in
from app.web.strict_json import StrictJson
from app.web.visitor import Visitor

api_people = APIRouter(
    prefix="/api", tags=["People"], responses=dict.fromkeys((400, 401, 403), PROBLEM), route_class=StrictJson
)


@api_people.post(
    "/sessions",
    status_code=201,
    response_model=SessionOut,
    responses=dict.fromkeys((413, 415, 422, 429, 503, 507), PROBLEM),
)
async def sign_in(sent: SessionIn, request: Request, shell: ShellDep) -> dict[str, Any]:
    """Sign a program in. Send the token with each request as ``Authorization: Bearer``; it needs no Origin then."""
    address = request.client.host if request.client else ""
    token, session = await signed_in(shell, sent.name, sent.password, sent.station, address)
    return {"token": token, "name": session.person, "ends_at": instant(session.ends_at)}


@api_people.delete("/session", status_code=204, responses=dict.fromkeys((409, 503, 507), PROBLEM))
def sign_out(request: Request, shell: ShellDep) -> Response:
    """Sign out: the session's token is worth nothing from now on, and its streams end."""
    visitor: Visitor = request.state.visitor
    if not visitor.session:
        raise HTTPException(409, "There are no accounts here, so nobody is signed in.")
    shell.people.sign_out(visitor.session)
    return Response(status_code=204)


@api_people.get("/me", response_model=MeOut)
def me(request: Request) -> dict[str, Any]:
    """Who asks, and what they may do. 401 when there are accounts and nobody is signed in."""
    visitor: Visitor = request.state.visitor
    if not visitor.may:
        raise HTTPException(401, "Sign in first: nobody is signed in at this station.")
    return {
        "name": visitor.name or None,
        "may": visitor.may,
        "open": visitor.open,
        "token": visitor.token,
        "station": visitor.station,
    }
