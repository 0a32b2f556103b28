"""The pages of the help: offline, for anybody, the same for all. They hold no data of any run."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from fastapi import APIRouter, HTTPException, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from app.web.depends import ShellDep
from app.web.help_example import PROCEDURE
from app.web.help_number import Number
from app.web.help_numbers import NUMBERS
from app.web.help_reference import Reference, reference
from app.web.help_words import PAGES, Explained, address_of, explained, find
from app.web.render import Renderer

helping = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

LONGEST_ASKED = 200


@dataclass(frozen=True, slots=True)
class HelpPage:
    """`page`: the last part of its address; `asked`: a word that was looked for and not found; `example`: the
    procedure that the worked numbers are about."""

    page: str
    here_address: str
    asked: str
    numbers: Mapping[str, Number]
    pages: Mapping[str, str]
    reference: Reference
    example: str


@helping.get("/help")
def help_index(shell: ShellDep, what: str = "", on: str = "") -> Response:
    """The first page; with `what`, a word of the screen `on`, the place where that word is explained."""
    asked = " ".join(what.split())[:LONGEST_ASKED]
    if asked and (found := find(words(shell.renderer, shell.settings.static), asked, on)):
        return RedirectResponse(found.address, 303)
    return HTMLResponse(rendered(shell.renderer, shell.settings.static, "", asked))


@helping.get("/help/{page}")
def help_page(page: str, shell: ShellDep) -> str:
    if page not in PAGES:
        raise HTTPException(404, f"The help has no page “{page}”.")
    return rendered(shell.renderer, shell.settings.static, page)


@cache
def words(renderer: Renderer, static: Path) -> tuple[Explained, ...]:
    """Every word that the help explains, page by page. Rendered once: it is the same for everybody."""
    return tuple(word for page in PAGES for word in explained(page, rendered(renderer, static, page)))


def rendered(renderer: Renderer, static: Path, page: str, asked: str = "") -> str:
    """A page of the help, whole."""
    pages = {address_of(each): name for each, name in PAGES.items()}
    numbers = {each.slug: each for each in NUMBERS}
    told = HelpPage(page, address_of(page), asked, numbers, pages, reference(static), PROCEDURE)
    return renderer.page(f"help/{page or 'index'}.html", told)
