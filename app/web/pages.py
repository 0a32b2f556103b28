"""GET: the pages. Each route reads its address, asks the service and renders."""

from dataclasses import replace
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from app.core.changes import LONGEST, MOST_CHANGES
from app.core.commands import Refusal, in_address, moment
from app.web.addresses import RunId
from app.web.boards import WITH_PAST, Board, Looking, NoSuchPage, Notice, Shown, board
from app.web.depends import MeDep, Shell, ShellDep
from app.web.home import home, home_parts
from app.web.keys import new_key
from app.web.pages_context import ApiPage, RevisionPage
from app.web.render import Part
from app.web.replay_parts import seeking
from app.web.views.library import origin_words
from app.web.views.log import Search
from app.web.views.plan_page import plan_page

OF_HEADER = "X-Leadline-Of"
"""Of parts that a page fetches: the `identity` of their run. A page of another one loads itself anew."""

pages = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


@pages.get("/")
def home_page(request: Request, shell: ShellDep, me: MeDep) -> str:
    if "HX-Request" in request.headers:
        return changes(shell, home_parts(shell), request.query_params.getlist("have"))
    return shell.renderer.page("home.html", home(shell, me))


@pages.get("/procedures/{revision}")
def revision_page(revision: str, shell: ShellDep) -> str:
    stored = shell.service.shelf.revision(revision)
    plan = plan_page(shell.service.shelf.prepared(stored), stored.hash, stored.text)
    return shell.renderer.page("revision.html", RevisionPage(plan, "plan", "", new_key()))


@pages.get("/api/docs")
def api_page(shell: ShellDep) -> str:
    return shell.renderer.page("api_docs.html", ApiPage("API"))


@pages.get("/runs/{run}")
def run_page(run: RunId) -> RedirectResponse:
    return RedirectResponse(f"/runs/{run}/desk", 303)


@pages.get("/runs/{run}/trainer")
def trainer_page(run: RunId, request: Request, shell: ShellDep, me: MeDep) -> Response:
    """Of a rehearsal. It has a row of its own in `access`: it is not for those who are trained."""
    return board_page(run, "trainer", request, shell, me)


@pages.get("/runs/{run}/{page:path}")
def board_page(
    run: RunId,
    page: str,
    request: Request,
    shell: ShellDep,
    me: MeDep,
    at: str = "",
    said: Annotated[list[str], Query(alias="if")] = [],  # noqa: B006 - FastAPI copies it
    find: str = "",
    only: Annotated[list[str], Query()] = [],  # noqa: B006 - FastAPI copies it
    look: str = "",
) -> Response:
    """A page of a run, whole; or, asked by htmx, only the parts that differ from what it has.

    `if` names changes that the Lead board tries; `find` and `only` what the Log is looked through for; `look` has
    Replay look further for where the lead turned.
    """
    found = show(shell, run, page, me.visitor.may, at, None, tuple(said), Search.asked(find, only), bool(look))
    if "HX-Request" in request.headers:
        have = request.query_params.getlist("have")
        return HTMLResponse(changes(shell, found.all_parts, have, kept="notice"), headers={OF_HEADER: found.of})
    return HTMLResponse(shell.renderer.page("board.html", found))


def show(
    shell: Shell,
    run: int,
    page: str,
    may: str,
    at: str = "",
    notice: Notice | None = None,
    said: tuple[str, ...] = (),
    search: Search = Search(),  # noqa: B008 - a frozen value
    look: bool = False,
) -> Board:
    """The board now, or with `at` as it stood, for somebody who may do so much; `said` is what is tried.

    Raises:
        NoSuchRun, NoSuchPage: there is none. Refusal: the moment can't be read or has not come.
    """
    live = shell.service.run(run)
    at_s = moment(in_address(at), live.now_s()) if at and page.split("/")[0] in WITH_PAST else None
    if page.count("/") > 1 or page.endswith("/"):
        raise NoSuchPage(page)
    text = shell.service.shelf.revision(live.stored.revision).text if page == "plan" else ""
    looking = _looking(shell, run, at_s, said) if page == "lead" else None
    seek = None if at_s is None else seeking(shell, run, look)
    shown = Shown(run, shell.service.situation(run, at_s), live.log, at_s is not None, text, looking, search, may, seek)
    shown = replace(shown, origin=origin_words(live.stored))
    return board(shell.renderer if at_s is None else shell.renderer.of_past(), shown, page, notice)


def _looking(shell: Shell, run: int, at_s: int | None, said: tuple[str, ...]) -> Looking:
    """A change that can't be tried is said on the board; all else of it stands."""
    points, outlook = shell.lookout.lead_so_far(run, at_s), shell.lookout.outlook(run, at_s)
    # One more and one longer than may be tried, which is then said: each is shown with a form that repeats the others.
    changes = tuple(" ".join(text.split())[: LONGEST + 1] for text in said if text.strip())[: MOST_CHANGES + 1]
    if not changes:
        return Looking(points, outlook)
    try:
        return Looking(points, outlook, changes, shell.lookout.what_if(run, changes, at_s))
    except Refusal as refusal:
        return Looking(points, outlook, changes, None, str(refusal))


def changes(shell: Shell, parts: tuple[Part, ...], have: list[str], asked_from: str = "", kept: str = "") -> str:
    """The parts whose mark is not among `have` (``id:mark``), each to be morphed into its place.

    The part that an order came from is always among them: its forms need new keys. The part `kept` never is: what
    was refused here stands, with the reason being typed into it, however much others change.
    """
    known = set(have)
    told = [part for part in parts if part.id != kept]
    new = tuple(part for part in told if part.id == asked_from or f"{part.id}:{part.mark}" not in known)
    return shell.renderer.part("changes", "_changes.html", parts=new, gone=_gone(known, parts)).html


def _gone(known: set[str], parts: tuple[Part, ...]) -> bool:
    """Whether the page has another number of parts than before, so that it must be loaded anew."""
    return bool(known) and len(known) != len(parts)
