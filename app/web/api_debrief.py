"""The JSON API of what a run was, and of runs beside each other. It changes nothing."""

from typing import Annotated, Any

from fastapi import APIRouter, Query, Response

from app.core.debrief_report import compare_report, debrief_report
from app.core.heads import head_of
from app.service.debriefs import MOST_RUNS, comparison, debrief_of, read_now
from app.web.addresses import RunId
from app.web.depends import ShellDep
from app.web.heads import HEAD, HEADERS
from app.web.schemas import PROBLEM
from app.web.schemas_compare import ComparingOut
from app.web.schemas_debrief import DebriefOut
from app.web.strict_json import StrictJson

api_debrief = APIRouter(
    prefix="/api",
    tags=["Afterwards"],
    responses=dict.fromkeys((400, 401, 403, 404, 409, 422), PROBLEM),
    route_class=StrictJson,
)

Runs = Annotated[
    list[RunId],
    Query(
        alias="run",
        min_length=2,
        max_length=MOST_RUNS,
        description="Runs of one procedure; the first is the one that the others are measured against.",
    ),
]


@api_debrief.get("/runs/{run}/debrief", response_model=DebriefOut, responses={200: {"headers": HEADERS}})
def run_debrief(run: RunId, shell: ShellDep, response: Response) -> dict[str, Any]:
    """Planned against actual, where the lead was won and lost, holds, decisions; so far, if the run goes on."""
    read = read_now(shell.service, run)
    response.headers[HEAD] = head_of(read.log)
    return debrief_report(debrief_of(read))


@api_debrief.get("/compare", response_model=ComparingOut)
def compared(runs: Runs, shell: ShellDep) -> dict[str, Any]:
    """Runs of one procedure, step by step and person by person. 409: they are of different procedures."""
    return compare_report(comparison(shell.service, runs))
