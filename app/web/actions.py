"""POST: the forms of the pages. Each works without script: it answers with a redirect, or the page with a sentence."""

from typing import Annotated

from fastapi import APIRouter, File, Form, Request, Response, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.concurrency import run_in_threadpool

from app.core.commands import Command, MarkStep, Refusal, moment
from app.service.runs import wait
from app.service.values import Refused
from app.store.faults import StoreFailed
from app.web.boards import Notice, OrderForm
from app.web.depends import NAME_COOKIE, MeDep, Shell, ShellDep, name_cookie
from app.web.errors import status_of, status_of_fault
from app.web.home import home
from app.web.keys import new_key, read_key
from app.web.orders import Said, command_of, read_number
from app.web.pages import changes, show

actions = APIRouter(include_in_schema=False)

LARGEST_FILE = 512 * 1024
Text = Annotated[str, Form()]


@actions.post("/procedures")
async def add_procedure(
    shell: ShellDep, me: MeDep, file: Annotated[UploadFile | None, File()] = None, text: Text = ""
) -> Response:
    """A procedure from a file or from the text field."""
    sent = await file.read(LARGEST_FILE + 1) if file is not None and file.filename else text.encode()
    source = (file.filename or "" if file is not None and file.filename else "typed in")[-100:]
    try:
        loaded = await run_in_threadpool(shell.service.shelf.load, sent, source)
    except Refused as refused:
        note = f"{source}: not loaded. Every fault is listed below with its place."
        page = await run_in_threadpool(home, shell, me, note, refused.faults)
        return HTMLResponse(shell.renderer.page("home.html", page), 422)
    return RedirectResponse(f"/procedures/{loaded.hash}", 303)


@actions.post("/runs")
def start_run(
    shell: ShellDep, me: MeDep, revision: Text, kind: Text = "live", running: Text = "", key: Text = ""
) -> Response:
    running_s = moment(running, 0)
    run = shell.service.start_run(revision, kind, me.sender(_key(key)), running_s)
    return RedirectResponse(f"/runs/{run}/desk", 303)


@actions.post("/name")
def set_name(name: Text = "") -> Response:
    answer = RedirectResponse("/", 303)
    answer.set_cookie(NAME_COOKIE, name_cookie(name), max_age=400 * 86_400, httponly=True, samesite="strict")
    return answer


@actions.post("/runs/{run}/orders")
async def give_order(run: int, request: Request, shell: ShellDep, me: MeDep) -> Response:
    """Any order of any page. `page` says where to come back to, `do` what is ordered."""
    form = {name: value for name, value in (await request.form()).multi_items() if isinstance(value, str)}
    page = form.get("page", "desk")
    notice, status = None, 200
    try:
        sender = me.sender(_key(form.get("key", "")))
        await wait(shell.service.order(run, _command(form), sender, form.get("at") or None))
    except Refusal as refusal:
        notice, status = _refused(refusal, form), status_of(refusal)
    except StoreFailed as fault:
        # The page stays up: what it shows is in memory, and the press can be repeated when there is room.
        notice, status = Notice(str(fault), "refused"), status_of_fault(fault)
    if "HX-Request" in request.headers:
        have = [str(each) for each in (await request.form()).getlist("have")]
        return await run_in_threadpool(_parts, shell, run, page, notice, status, have, form.get("from", ""))
    return await run_in_threadpool(_page, shell, run, page, notice, status)


def _parts(
    shell: Shell, run: int, page: str, notice: Notice | None, status: int, have: list[str], asked_from: str
) -> Response:
    return HTMLResponse(changes(shell, show(shell, run, page, notice=notice).all_parts, have, asked_from), status)


def _page(shell: Shell, run: int, page: str, notice: Notice | None, status: int) -> Response:
    if notice is None:
        return RedirectResponse(f"/runs/{run}/{page}", 303)
    return HTMLResponse(shell.renderer.page("board.html", show(shell, run, page, notice=notice)), status)


def _command(form: dict[str, str]) -> Command:
    """Raises Refusal for an order that can't be read."""
    if form.get("do") == "mark":
        values = tuple((name, read_number(name, text)) for name, text in _values(form) if text.strip())
        return MarkStep(form.get("step", ""), values, form.get("ordered_because"))
    said = Said(form.get("step", ""), form.get("task", ""), form.get("person", ""), form.get("reason", ""))
    return command_of(form.get("do", ""), said)


def _values(form: dict[str, str]) -> tuple[tuple[str, str], ...]:
    """The typed values: fields named ``value:`` and then the value's name."""
    return tuple((name.removeprefix("value:"), text) for name, text in form.items() if name.startswith("value:"))


def _refused(refusal: Refusal, form: dict[str, str]) -> Notice:
    """The sentence; and, where the lead may order it all the same, a form that does."""
    if not refusal.may_order:
        return Notice(str(refusal), "refused")
    order = OrderForm(form.get("step", ""), form.get("at", ""), _values(form), new_key())
    return Notice(str(refusal), "refused", order)


def _key(text: str) -> str:
    """Raises Refusal for a key that is no UUID. A form without one gets a new one: it is one press."""
    try:
        return read_key(text) if text else new_key()
    except ValueError as error:
        raise Refusal("bad-key", "The form's key is no UUID; load the page anew.") from error
