"""The pages of accounts: sign in and out, one's own password, the keeper's list. The rules are in `service.people`."""

from dataclasses import dataclass
from functools import partial
from typing import Annotated, Literal
from urllib.parse import urlencode

from fastapi import APIRouter, Form, Query, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.concurrency import run_in_threadpool

from app.core.commands import Refusal
from app.core.times import instant
from app.service.passwords import LONGEST_NAME
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
    """`next`: the address to go on to. `closed`: why nobody can sign in, if nobody can. `changed`: the password was."""

    next: str
    name: str
    refused: str
    closed: Literal["", "open", "no accounts", "disabled"]
    changed: bool


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
    """`alone`: the server is reached from this machine only. `me`: whose list is not to be disabled by a slip.

    `name`, `may`: as they stand in the form for somebody new.
    """

    people: tuple[PersonRow, ...]
    rights: tuple[str, ...]
    me: str
    said: str
    refused: str
    alone: bool
    name: str
    may: str


@people_pages.get("/sign-in")
def sign_in_page(
    request: Request,
    shell: ShellDep,
    after: Annotated[str, Query(alias="next", max_length=2_000)] = "/",
    told: Annotated[str, Query(max_length=40)] = "",
) -> Response:
    """Whoever is signed in goes on at once: they came back, or their browser left the cookie out for one request."""
    visitor: Visitor = request.state.visitor
    if visitor.name:
        return RedirectResponse(_ours(after), 303)
    changed = told == _notice(shell, visitor, "password", "")
    return HTMLResponse(shell.renderer.page("sign_in.html", _sign_in(shell, after, changed=changed)))


def _sign_in(shell: Shell, after: str, name: str = "", refused: str = "", changed: bool = False) -> SignInPage:
    closed: Literal["", "open", "no accounts", "disabled"] = ""
    if shell.people.none:
        closed = "open" if shell.alone else "no accounts"
    elif not shell.people.can_sign_in:
        closed = "disabled"
    return SignInPage(_ours(after), name[:100], refused, closed, changed)


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
    device = request.cookies.get(shell.device_cookie(request), "")
    try:
        token, session = await signed_in(shell, name, password, visitor.station, address, device)
    except Refusal as refusal:
        page = shell.renderer.page("sign_in.html", _sign_in(shell, after, name, str(refusal)))
        answer = HTMLResponse(page, status_of(refusal))
        if isinstance(refusal, TooMany):
            answer.headers["Retry-After"] = str(refusal.wait_s)
        return answer
    if visitor.session:  # Whoever was signed in here before has left the station to somebody else.
        await run_in_threadpool(shell.people.sign_out, visitor.session)
    going = RedirectResponse(_ours(after), 303)
    sealed = shell.sealed(request)
    _keep_cookie(going, sealed, shell.session_cookie(request), token, round(SESSION_LASTS.total_seconds()))
    # Only what this page sends is looked at for it, so it may be as strict as there is.
    device = shell.people.device_token(session.person)
    _keep_cookie(going, sealed, shell.device_cookie(request), device, DEVICE_LASTS_S, "strict")
    return going


@people_pages.post("/sign-out")
def sign_out(request: Request, shell: ShellDep) -> Response:
    shell.people.sign_out(request.state.visitor.session)
    answer = RedirectResponse("/sign-in", 303)
    _keep_cookie(answer, shell.sealed(request), shell.session_cookie(request), "", 0)
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
    return RedirectResponse(f"/sign-in?told={_notice(shell, visitor, 'password', '')}", 303)


@people_pages.get("/people")
def people_page(
    shell: ShellDep,
    me: MeDep,
    did: Annotated[str, Query(max_length=20)] = "",
    name: Annotated[str, Query(max_length=200)] = "",
    told: Annotated[str, Query(max_length=40)] = "",
) -> str:
    said = _said(shell, did, name) if told == _notice(shell, me.visitor, did, name) else ""
    return _people(shell, me.visitor, said=said)


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
        typed = (name[:LONGEST_NAME], may) if do == "add" and may in RIGHTS else None
        return HTMLResponse(_people(shell, me.visitor, refused=str(refusal), typed=typed), status_of(refusal))
    told = {"did": do, "name": changed.name, "told": _notice(shell, me.visitor, do, changed.name)}
    return RedirectResponse(f"/people?{urlencode(told)}", 303)


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


def _notice(shell: Shell, visitor: Visitor, did: str, name: str) -> str:
    """What an address needs for its word of what was done: another site can make none for this station."""
    return shell.people.notice_token(f"{visitor.station} {did} {name}")


def _said(shell: Shell, did: str, name: str) -> str:
    """What was done, and what is so now: a reload may come much later."""
    person = next(each for each in shell.people.everybody() if each.name == name)
    if not person.enabled:
        return f"{name} is disabled, and signed out everywhere"
    match did:
        case "add":
            return f"{name} was added, who may {person.may}"
        case "password":
            return f"{name} has a new password, and is signed out everywhere"
        case "enable":
            return f"{name} may sign in again, and may {person.may}"
        case _:
            return f"{name} may {person.may} now, and is signed out everywhere until the next sign-in"


def _people(
    shell: Shell, visitor: Visitor, said: str = "", refused: str = "", typed: tuple[str, str] | None = None
) -> str:
    """`typed`: the name and right that were refused for somebody new."""
    rows = tuple(
        PersonRow(person.name, person.may, person.enabled, instant(person.added_at)[:10])
        for person in shell.people.everybody()
    )
    name, may = typed or ("", "mark" if rows else "keep")
    page = PeoplePage(rows, RIGHTS, visitor.name, said, refused, shell.alone, name, may)
    return shell.renderer.page("people.html", page)


def _keep_cookie(
    answer: Response, sealed: bool, name: str, value: str, lasts_s: int, from_sites: Literal["lax", "strict"] = "lax"
) -> None:
    """`from_sites`: see `guard`."""
    answer.set_cookie(name, value, max_age=lasts_s, httponly=True, samesite=from_sites, secure=sealed)


def _ours(address: str) -> str:
    """An address of this server, whatever was asked for: a browser takes ``//x`` and ``/\\x`` for other hosts."""
    plain = address.isprintable() and address.startswith("/") and address[1:2] not in ("/", "\\")
    return address if plain else "/"
