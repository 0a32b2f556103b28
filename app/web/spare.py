"""GET: the cards with which a station goes on while the server is away. It takes nothing in."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Query
from fastapi.responses import HTMLResponse

from app.core.commands import Refusal
from app.service.rights import allows
from app.web.addresses import RunId
from app.web.depends import MeDep, ShellDep
from app.web.views.spare import Spare, spares

spare = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


@dataclass(frozen=True, slots=True)
class SpareCards:
    run: int
    page: str
    seq: int
    can_lead: bool
    spares: tuple[Spare, ...]


@spare.get("/runs/{run}/spare")
def spare_cards(
    run: RunId, shell: ShellDep, me: MeDep, page: Annotated[str, Query(max_length=200)] = "desk"
) -> HTMLResponse:
    """None for an ended or imported run, nor for somebody who may press nothing."""
    situation = shell.service.situation(run)
    going_on = shell.service.run(run).stands_s is None and allows(me.visitor.may, "mark")
    found = spares(situation, page) if going_on else ()
    if going_on and not found:
        raise Refusal("unknown", f"The page “{page[:40]}” has no bands to go on with.")
    return HTMLResponse(
        shell.renderer.page(
            "spare.html", SpareCards(run, page, situation.state.seq, allows(me.visitor.may, "lead"), found)
        )
    )
