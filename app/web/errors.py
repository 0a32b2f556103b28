"""Errors as answers: RFC 9457 problem details for the API, a page with a plain sentence for people."""

from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, JSONResponse
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect
from starlette.routing import Match

from app.core.commands import Refusal
from app.core.quoting import quoted
from app.reading.faults import PlacedFault
from app.service.rights import TooMany
from app.service.values import Refused
from app.store.faults import NoSuchRevision, NoSuchRun, StoreFault, StoreFull
from app.web.addresses import STREAMS
from app.web.boards import NoSuchPage
from app.web.pages_context import ErrorPage
from app.web.safe_headers import make_safe

PROBLEM_JSON = "application/problem+json"

STATUS = {
    "key-reused": 422,
    "bad-key": 422,
    "bad-time": 422,
    "not-a-number": 422,
    "unknown": 422,
    "not-understood": 422,
    "incomplete": 422,
    "no-reason": 422,
    "too-long": 422,
    "unknown-value": 422,
    "unknown-kind": 422,
    "no-such-moment": 404,
    "no-sign-in": 401,
    "not-allowed": 403,
    "not-you": 403,
    "nobody": 404,
    "too-many": 429,
    "bad-name": 422,
    "bad-password": 422,
    "nothing-owed": 404,
}
"""HTTP status by refusal code: 422 for what can't be understood, 409 (the default) for what may not be done now."""


TOO_LARGE = "That is larger than a procedure file may be; nothing was read."
"""Instead of the framework's words."""
RUN_TOO_LARGE = "That is larger than the file of a run may be; nothing was read."


def too_large(path: str) -> str:
    """What is said of a body that is larger than is taken at this address."""
    return RUN_TOO_LARGE if path == "/runs/import" else TOO_LARGE


def status_of(refusal: Refusal) -> int:
    return STATUS.get(refusal.code, 409)


def status_of_fault(fault: StoreFault) -> int:
    """404 for what is not there, 507 when there is no room (RFC 4918, 11.5), else 503."""
    if isinstance(fault, NoSuchRun | NoSuchRevision):
        return 404
    return 507 if isinstance(fault, StoreFull) else 503


def fault_json(fault: PlacedFault) -> dict[str, Any]:
    """``cell`` is there when the file is a table."""
    said = {
        "line": fault.line,
        "column": fault.column,
        "what": fault.what,
        "remedy": fault.remedy,
        "remark": fault.remark,
    }
    return said | ({"cell": fault.cell} if fault.cell else {})


def problem(status: int, detail: str, **more: Any) -> JSONResponse:
    """``application/problem+json`` (RFC 9457). What is None is left out."""
    body = {"type": "about:blank", "title": HTTPStatus(status).phrase, "status": status, "detail": detail}
    said = {name: value for name, value in more.items() if value is not None}
    return JSONResponse(body | said, status, media_type=PROBLEM_JSON)


def install(app: FastAPI) -> None:
    """Give every error that a route lets through its answer."""
    app.add_exception_handler(RequestValidationError, _not_valid)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(Refusal, _refusal)
    app.add_exception_handler(Refused, _refused)
    app.add_exception_handler(StoreFault, _store)
    app.add_exception_handler(NoSuchPage, _no_page)
    app.add_exception_handler(ClientDisconnect, _gone)
    app.add_exception_handler(Exception, _unexpected)
    _describe(app)


def _describe(app: FastAPI) -> None:
    """Describe problem details under the media type that they are sent with; FastAPI takes every model for JSON."""
    make = app.openapi

    def described() -> dict[str, Any]:
        said = make()
        for answer in (each for ways in said["paths"].values() for way in ways.values() for each in _answers(way)):
            if PROBLEM_JSON in answer and "application/json" in answer:
                answer[PROBLEM_JSON] = answer.pop("application/json")
        return said

    app.openapi = described  # type: ignore[method-assign] # the way that FastAPI documents


def _answers(way: dict[str, Any]) -> list[dict[str, Any]]:
    return [each.get("content", {}) for each in way["responses"].values()]


async def _gone(_request: Request, _: Exception) -> Response:
    """Whoever sent half a body went away: nobody reads this answer, and it is no defect of ours to log."""
    return Response(status_code=400)


async def _unexpected(request: Request, _: Exception) -> Response:
    """A defect of ours. The server writes the traceback to its own log; what was acknowledged is on disk.

    The framework sends this from outside of all that `guard` has put around the application.
    """
    said = answer(request, 500, "Leadline met a fault of its own; what was marked before is kept. Load the page anew.")
    make_safe(said.headers)
    return said


def wants_json(request: Request) -> bool:
    """Whether a script of ours asks, which sends what was kept while the server was away."""
    return request.headers.get("accept", "") == "application/json"


def _is_program(request: Request) -> bool:
    return request.url.path.startswith("/api") or wants_json(request)


def answer(request: Request, status: int, detail: str, **more: Any) -> Response:
    """A problem document under ``/api`` and for who asks for JSON, elsewhere a page with the sentence."""
    if _is_program(request):
        return problem(status, detail, **more)
    page = ErrorPage(title=HTTPStatus(status).phrase, status=status, detail=detail)
    return HTMLResponse(request.app.state.shell.renderer.page("error.html", page), status)


async def _not_valid(request: Request, error: Exception) -> Response:
    """What was sent, never echoed: it may hold NaN or a lone surrogate, which JSON and UTF-8 can't carry back."""
    assert isinstance(error, RequestValidationError)
    found = error.errors()[:20]
    if any(each["loc"][0] == "path" for each in found):
        return answer(request, 404, "There is no such address: a run is named by its number.")
    if not _is_program(request):
        fields = ", ".join(dict.fromkeys(_printable(each["loc"][-1]) for each in found))
        return answer(request, 422, f"What was sent can't be read ({fields}). Load the page anew and send it again.")
    said = [f"{'.'.join(_printable(part) for part in each['loc'])}: {each['msg']}" for each in found]
    return answer(request, 422, "; ".join(said).encode("utf-8", "replace").decode())


def _printable(part: object) -> str:
    return str(part)[:60].encode("ascii", "replace").decode()


async def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    detail = too_large(request.url.path) if error.status_code == 413 else str(error.detail)
    said = answer(request, error.status_code, detail)
    said.headers.update(error.headers or {})
    if error.status_code == 405:
        said.headers["Allow"] = ", ".join(_allowed(request))
    return said


def _allowed(request: Request) -> list[str]:
    """The methods that this address takes (RFC 9110, 15.5.6); the framework knows those of one of its routes only."""
    if request.url.path.startswith("/static/"):
        return ["GET", "HEAD"]
    scope = {"type": "http", "path": request.url.path, "root_path": "", "headers": []}
    found = [
        method
        for method in ("GET", "POST", "DELETE")
        if any(route.matches(scope | {"method": method})[0] is Match.FULL for route in request.app.routes)
    ]
    # `guard.HeadAsGet` answers it wherever there is an end to the answer.
    return ["GET", "HEAD", *found[1:]] if found[:1] == ["GET"] and not STREAMS.fullmatch(request.url.path) else found


async def _refusal(request: Request, error: Exception) -> Response:
    assert isinstance(error, Refusal)
    said = answer(request, status_of(error), str(error), code=error.code, may_order=error.may_order or None)
    if isinstance(error, TooMany):
        said.headers["Retry-After"] = str(error.wait_s)
    return said


async def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, Refused)
    real = [fault for fault in error.faults if not fault.remark]
    detail = f"The procedure has {len(real)} fault{'' if len(real) == 1 else 's'}; nothing was loaded."
    return answer(request, 422, detail, code="faults", faults=[fault_json(fault) for fault in error.faults])


async def _store(request: Request, error: Exception) -> Response:
    assert isinstance(error, StoreFault)
    return answer(request, status_of_fault(error), _sentence(error))


def _sentence(error: Exception) -> str:
    text = str(error)
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")


async def _no_page(request: Request, error: Exception) -> Response:
    return answer(request, 404, f"A run has no page {quoted(str(error))}.")
