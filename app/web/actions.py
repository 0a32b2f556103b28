"""POST: the forms of the pages. Each works without script: it answers with a redirect, or the page with a sentence."""

from typing import Annotated

from fastapi import APIRouter, File, Form, Request, Response, UploadFile
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData

from app.core.commands import Command, MarkStep, Refusal, moment
from app.service.runs import wait
from app.service.values import Outcome, Refused, identity
from app.store.faults import StoreFailed
from app.web.access import may_order
from app.web.addresses import RunId
from app.web.boards import Notice, OrderForm
from app.web.depends import NAME_COOKIE, Me, MeDep, Shell, ShellDep, cookie_name, name_cookie
from app.web.errors import status_of, status_of_fault, wants_json
from app.web.home import home
from app.web.keys import new_key, read_key
from app.web.orders import command_of, in_order, read_number
from app.web.pages import OF_HEADER, changes, show
from app.web.said import Said, Values
from app.web.views.log import Search

actions = APIRouter(include_in_schema=False)

LARGEST_FILE = 512 * 1024
LONGEST_FIELD = 4_000
"""Characters in a field of an order, its name included. The core takes less of each. Our own bound, no source."""
Text = Annotated[str, Form()]


class Sent:
    """The text fields of a form, in the order in which they stand in it; files are left out."""

    def __init__(self, form: FormData) -> None:
        self._fields = [(name, value) for name, value in form.multi_items() if isinstance(value, str)]

    def first(self, name: str) -> str:
        """Empty when there is no such field."""
        return next((value for other, value in self._fields if other == name), "")

    def each(self, name: str) -> tuple[str, ...]:
        return tuple(value for other, value in self._fields if other == name)

    def named(self, prefix: str) -> tuple[tuple[str, str], ...]:
        """The fields whose names begin so, as (the rest of the name, value)."""
        return tuple((name.removeprefix(prefix), value) for name, value in self._fields if name.startswith(prefix))

    def refuse_long(self) -> None:
        """A sentence that refuses an order may repeat what was sent. Raises Refusal for what nobody types."""
        if any(len(name) + len(value) > LONGEST_FIELD for name, value in self._fields):
            raise Refusal("too-long", f"Each field of a form takes {LONGEST_FIELD:,} characters at most.")


@actions.post("/procedures")
async def add_procedure(
    shell: ShellDep, me: MeDep, file: Annotated[UploadFile | None, File()] = None, text: Text = ""
) -> Response:
    """A procedure from a file or from the text field."""
    sent = await file.read(LARGEST_FILE + 1) if file is not None and file.filename else text.encode()
    source = (file.filename or "" if file is not None and file.filename else "typed in")[-100:]
    try:
        loaded = await shell.uploads.load(sent, source)
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
def set_name(request: Request, shell: ShellDep, name: Text = "") -> Response:
    sealed = shell.sealed(request)
    answer, cookie = RedirectResponse("/", 303), cookie_name(NAME_COOKIE, sealed)
    kept_s = 400 * 86_400
    answer.set_cookie(cookie, name_cookie(name), max_age=kept_s, httponly=True, samesite="lax", secure=sealed)
    return answer


@actions.post("/runs/{run}/orders")
async def give_order(run: RunId, request: Request, shell: ShellDep, me: MeDep) -> Response:
    """Any order of any page. `page` says where to come back to, `do` what is ordered."""
    form = Sent(await request.form())
    await shell.ready(run)
    if wants_json(request):
        return await _kept(shell, run, form, me)
    notice, status = None, 200
    try:
        _of_this_run(shell, run, form)
        await _ordered(shell, run, form, me)
    except Refusal as refusal:
        notice, status = _refused(refusal, form), status_of(refusal)
    except StoreFailed as fault:
        # The page stays up: what it shows is in memory, and the press can be repeated when there is room.
        notice, status = Notice(str(fault), "refused"), status_of_fault(fault)
    return await run_in_threadpool(
        _answer, shell, me.visitor.may, run, form, "HX-Request" in request.headers, notice, status
    )


async def _ordered(shell: Shell, run: int, form: Sent, me: Me) -> Outcome:
    sender = me.sender(_key(form.first("key")))
    command = _command(form)
    may_order(me.visitor, command)
    pressed_s = _pressed_s(form.first("pressed"))
    return await wait(shell.service.order(run, command, sender, form.first("at") or None, pressed_s))


def _of_this_run(shell: Shell, run: int, form: Sent) -> None:
    """A form that was sent without script does not say which run it is of, and is taken.

    Raises:
        Refusal: it was pressed for another run that had this number, on other data.
    """
    if form.each("of") and form.first("of") != identity(shell.service.run(run).state):
        sentence = f"This was pressed, or kept, for another run that was called {run}; it is not of this one"
        raise Refusal("other-run", f"{sentence}. Load the page anew.")


def _pressed_s(text: str) -> int | None:
    """The elapsed second at which the station says it was pressed; None where none was said.

    Raises:
        Refusal: it is no whole number. Taken for 0 it would be a mark at the run's zero.
    """
    if not text:
        return None
    if not (text.isascii() and text.isdigit() and len(text) < 16):
        raise Refusal("bad-time", f"“{text[:20]}” is no elapsed second; a station says when it was pressed in digits.")
    return int(text)


async def _kept(shell: Shell, run: int, form: Sent, me: Me) -> Response:
    """An order that a station kept while the server was away. A refusal goes back as a problem document.

    Raises:
        Refusal: it may not be done, or does not say that it is of this run.
    """
    if not form.each("of"):
        raise Refusal("other-run", "A press that was kept says which run it is of.")
    _of_this_run(shell, run, form)
    outcome = await _ordered(shell, run, form, me)
    return JSONResponse({"seq": outcome.seq, "repeated": outcome.repeated})


def _answer(
    shell: Shell, may: str, run: int, form: Sent, parts_only: bool, notice: Notice | None, status: int
) -> Response:
    """The parts that differ, for htmx; else a redirect, or the page with what was refused.

    What is tried on the page is tried on, unless it has just been done.
    """
    page = form.first("page") or "desk"
    doing = form.first("do") == "what-if"
    tried = form.each("if") or (form.each("change") if doing else ())
    search = Search.asked(form.first("find"), form.each("only"))
    if notice is None and not parts_only:
        return RedirectResponse(f"/runs/{run}/{page}{search.query if page == 'log' else ''}", 303)
    found = show(shell, run, page, may, notice=notice, said=() if doing and notice is None else tried, search=search)
    if parts_only:
        parts = changes(shell, found.all_parts, list(form.each("have")), form.first("from"))
        return HTMLResponse(parts, status, {OF_HEADER: found.of})
    return HTMLResponse(shell.renderer.page("board.html", found), status)


def _command(form: Sent) -> Command:
    """A button of a form with several says, after a colon, whom or which it is about: ``go:EV1``, ``count:4``.

    Raises:
        Refusal: the order can't be read.
    """
    form.refuse_long()
    do, _, about = form.first("do").partition(":")
    # A value half typed is no matter of the other buttons of its form.
    values = _numbers(form, "value:") if do in _WITH_VALUES else ()
    if do == "mark":
        because = form.first("ordered_because") if form.each("ordered_because") else None
        return MarkStep(form.first("step"), values, because)
    said = Said(
        **{name: form.first(name) for name in _TEXTS} | ({"person": about} if about else {}),
        number=_whole(about or form.first("number")),
        flag=_whole(form.first("flag")),
        entry=_whole(form.first("entry")),
        value=read_number("the reading", form.first("value")) if form.first("value").strip() else None,
        values=values,
        readings=_numbers(form, "reading:"),
        anew=bool(form.first("anew")),
        heard=bool(form.first("heard")),
        rate=read_number("how fast", form.first("rate")) if form.first("rate").strip() else None,
        seed=_seed(form.first("seed").strip()),
        keep_time=not form.first("at").strip(),
        tasks=form.each("tasks") or in_order(dict(form.named("order:"))),
        who=form.each("who"),
        after=tuple(text for text in form.each("after") if text),
        changes=form.each("change"),
    )
    return command_of(do, said)


_TEXTS = (
    *("step", "task", "person", "reason", "takes", "other", "text", "before"),
    *("poll", "round", "supply", "tool", "how", "where", "to", "set_to", "what", "name", "inject"),
)


_WITH_VALUES = ("mark", "count", "correct")


def _numbers(form: Sent, prefix: str) -> Values:
    """Raises Refusal: something typed is not a number."""
    return tuple((name, read_number(name, text)) for name, text in form.named(prefix) if text.strip())


def _seed(text: str) -> int:
    """0 where none was typed. Raises Refusal: it is no whole number; taken for 0 it would draw something else."""
    if text and not (text.isascii() and text.isdigit() and len(text) < 17):
        raise Refusal("not-a-number", f"A seed is a whole number, written in digits, not “{text[:20]}”.")
    return int(text or 0)


def _whole(text: str) -> int:
    """Of a hidden field, made by the page; 0 for anything that it did not make."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 16 else 0


def _refused(refusal: Refusal, form: Sent) -> Notice:
    """The sentence; and, where the lead may order it all the same, a form that does."""
    if not refusal.may_order:
        return Notice(str(refusal), "refused")
    order = OrderForm(form.first("step"), form.first("at"), form.named("value:"), new_key())
    return Notice(str(refusal), "refused", order)


def _key(text: str) -> str:
    """Raises Refusal for a key that is no UUID. A form without one gets a new one: it is one press."""
    try:
        return read_key(text) if text else new_key()
    except ValueError as error:
        raise Refusal("bad-key", "The form's key is no UUID; load the page anew.") from error
