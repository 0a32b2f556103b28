"""GET: what a revision looks like on paper, the briefing and each person's list. It takes nothing in."""

from dataclasses import dataclass

from fastapi import APIRouter, HTTPException
from fastapi.responses import HTMLResponse

from app.core.procedure import Designator
from app.web.depends import ShellDep
from app.web.views.briefing import Briefing, briefing
from app.web.views.paper_list import PaperLists, paper_lists

sheets = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


@dataclass(frozen=True, slots=True)
class BriefingSheet:
    sheet: Briefing


@dataclass(frozen=True, slots=True)
class ListSheets:
    """`one`: whose list it is, empty for everybody's. `crew`: whose lists there are."""

    sheet: PaperLists
    one: Designator
    crew: tuple[Designator, ...]


@sheets.get("/procedures/{revision}/briefing")
def briefing_sheet(revision: str, shell: ShellDep) -> str:
    stored = shell.service.shelf.revision(revision)
    found = briefing(shell.service.shelf.prepared(stored), stored.hash)
    return shell.renderer.page("sheet_briefing.html", BriefingSheet(found))


@sheets.get("/procedures/{revision}/lists")
def all_lists(revision: str, shell: ShellDep) -> str:
    """Everybody's list, each beginning on a new sheet."""
    return _lists(shell, revision, "")


@sheets.get("/procedures/{revision}/lists/{person}")
def one_list(revision: str, person: str, shell: ShellDep) -> str:
    return _lists(shell, revision, person)


def _lists(shell: ShellDep, revision: str, person: Designator) -> str:
    stored = shell.service.shelf.revision(revision)
    prepared = shell.service.shelf.prepared(stored)
    crew = prepared.network.crew
    if person and person not in crew:
        raise HTTPException(404, f"Nobody of this procedure is called {person[:60]}.")
    found = paper_lists(prepared, stored.hash, (person,) if person else crew)
    return shell.renderer.page("sheet_lists.html", ListSheets(found, person, crew))
