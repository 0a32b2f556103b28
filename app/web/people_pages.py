"""The pages of accounts: sign in and out, one's own password, the keeper's list. The rules are in `service.people`."""

from dataclasses import dataclass
from functools import partial
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Form, Query, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.concurrency import run_in_threadpool

from app.core.commands import Refusal
from app.core.times import instant
from app.service.people import SESSION_LASTS, People
from app.service.rights import RIGHTS, TooMany
from app.store.people import Person
from app.web.depends import MeDep, Shell, ShellDep
from app.web.errors import status_of
from app.web.signing_in import signed_in
from app.web.visitor import Visitor

people_pages = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

DEVICE_LASTS_S = 400 * 86_400
Text = Annotated[str, Form(max_length=2_000)]


@dataclass(frozen=True, slots=True)
class SignInPage:
    """`next`: the address to go on to."""

    next: str
    name: str
    refused: str
    none: bool


@dataclass(frozen=True, slots=True)
class PasswordPage:
    refused: str


@dataclass(frozen=True, slots=True)
class PersonRow:
    name: str
    may: str
    enabled: bool
    added: str


@dataclass(frozen=True, slots=True)
class PeoplePage:
    """`alone`: the server is reached from this machine only. `me`: whose list is not to be disabled by a slip."""

    people: tuple[PersonRow, ...]
    rights: tuple[str, ...]
    me: str
    said: str
    refused: str
    alone: bool


@people_pages.get("/sign-in")
def sign_in_page(shell: ShellDep, after: Annotated[str, Query(alias="next", max_length=2_000)] = "/") -> str:
    return shell.renderer.page("sign_in.html", SignInPage(_ours(after), "", "", not shell.people.can_sign_in))


@people_pages.post("/sign-in")
async def sign_in(
    request: Request,
    shell: ShellDep,
    name: Text = "",
    password: Text = "",
    after: Annotated[str, Form(alias="next", max_length=2_000)] = "/",
) -> Response:
    visitor: Visitor = request.state.visitor
    address = request.client.host if request.client else ""
    device = request.cookies.get(shell.device_cookie, "")
    try:
        token, session = await signed_in(shell, name, password, visitor.station, address, device)
    except Refusal as refusal:
        page = SignInPage(_ours(after), name[:100], str(refusal), not shell.people.can_sign_in)
        answer = HTMLResponse(shell.renderer.page("sign_in.html", page), status_of(refusal))
        if isinstance(refusal, TooMany):
            answer.headers["Retry-After"] = str(refusal.wait_s)
        return answer
    if visitor.session:  # Whoever was signed in here before has left the station to somebody else.
        await run_in_threadpool(shell.people.sign_out, visitor.session)
    going = RedirectResponse(_ours(after), 303)
    _keep_cookie(going, shell, shell.session_cookie, token, round(SESSION_LASTS.total_seconds()))
    _keep_cookie(going, shell, shell.device_cookie, shell.people.device_token(session.person), DEVICE_LASTS_S)
    return going


@people_pages.post("/sign-out")
def sign_out(request: Request, shell: ShellDep) -> Response:
    shell.people.sign_out(request.state.visitor.session)
    answer = RedirectResponse("/sign-in", 303)
    _keep_cookie(answer, shell, shell.session_cookie, "", 0)
    return answer


@people_pages.get("/password")
def password_page(shell: ShellDep) -> str:
    return shell.renderer.page("password.html", PasswordPage(""))


@people_pages.post("/password")
async def change_password(
    request: Request, shell: ShellDep, old: Text = "", new: Text = "", again: Text = ""
) -> Response:
    """One's own password; it signs out everywhere."""
    visitor: Visitor = request.state.visitor
    try:
        if not visitor.name:
            raise Refusal("nobody", "There are no accounts, so there is no password to change.")
        if new != again:
            raise Refusal("bad-password", "The new password was typed in two ways; type it twice alike.")
        address = request.client.host if request.client else ""
        work = partial(shell.people.change_own_password, visitor.name, old, new, address)
        await shell.in_turn.run(True, work)
    except Refusal as refusal:
        page = shell.renderer.page("password.html", PasswordPage(str(refusal)))
        return HTMLResponse(page, status_of(refusal))
    return RedirectResponse("/sign-in", 303)


@people_pages.get("/people")
def people_page(
    shell: ShellDep,
    me: MeDep,
    did: Annotated[str, Query(max_length=20)] = "",
    name: Annotated[str, Query(max_length=200)] = "",
) -> str:
    return _people(shell, me.visitor, said=_said(shell, did, name))


@people_pages.post("/people")
async def change_people(
    shell: ShellDep, me: MeDep, do: Text = "", name: Text = "", may: Text = "", password: Text = ""
) -> Response:
    """`do`: ``add``, ``may``, ``password``, ``disable`` or ``enable``."""
    work = partial(_carry_out, shell.people, me.visitor.name, do, name, may, password)
    try:
        # Only what hashes a password waits its turn: somebody is disabled at once.
        changed = await (shell.in_turn.run(True, work) if do in ("add", "password") else run_in_threadpool(work))
    except Refusal as refusal:
        return HTMLResponse(_people(shell, me.visitor, refused=str(refusal)), status_of(refusal))
    return RedirectResponse(f"/people?did={do}&name={quote(changed.name, safe='')}", 303)


def _carry_out(people: People, by: str, do: str, name: str, may: str, password: str) -> Person:
    match do:
        case "add":
            return people.add(name, may, password, by)
        case "may":
            return people.change(name, may=may, by=by)
        case "password":
            return people.change(name, password=password, by=by)
        case "disable" | "enable":
            return people.change(name, enabled=do == "enable", by=by)
        case _:
            raise Refusal("unknown", f"There is no order “{do[:40]}”.")


def _said(shell: Shell, did: str, name: str) -> str:
    """What is so now after what was done, never what an address says."""
    person = next((each for each in shell.people.everybody() if each.name == name), None)
    if person is None or did not in ("add", "may", "password", "disable", "enable"):
        return ""
    if did == "password":
        return f"{name} was changed"
    return f"{name} may {person.may}" if person.enabled else f"{name} is disabled"


def _people(shell: Shell, visitor: Visitor, said: str = "", refused: str = "") -> str:
    rows = tuple(
        PersonRow(person.name, person.may, person.enabled, instant(person.added_at)[:10])
        for person in shell.people.everybody()
    )
    page = PeoplePage(rows, RIGHTS, visitor.name, said, refused, shell.alone)
    return shell.renderer.page("people.html", page)


def _keep_cookie(answer: Response, shell: Shell, name: str, value: str, lasts_s: int) -> None:
    secure = shell.settings.tls_cert is not None
    answer.set_cookie(name, value, max_age=lasts_s, httponly=True, samesite="strict", secure=secure)


def _ours(address: str) -> str:
    """An address of this server, whatever was asked for: a browser takes ``//x`` and ``/\\x`` for other hosts."""
    plain = address.isprintable() and address.startswith("/") and address[1:2] not in ("/", "\\")
    return address if plain else "/"
