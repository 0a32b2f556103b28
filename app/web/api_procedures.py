"""The JSON API of procedures: files in, revisions and plans out. It knows no run."""

from typing import Annotated, Any, Literal

from fastapi import APIRouter, HTTPException, Query, Request
from fastapi.responses import JSONResponse
from starlette.concurrency import run_in_threadpool

from app.core.report import plan_report
from app.core.situation import Prepared
from app.core.times import instant
from app.reading.files import CSV_TYPE, XLSX_TYPE, Kind
from app.service.durations import Asked, durations_report, find
from app.service.values import Refused
from app.store.library import StoredRevision
from app.web.addresses import RunId
from app.web.depends import ShellDep
from app.web.errors import fault_json
from app.web.schemas import PROBLEM, SENT, LoadedOut, PlanOut, ProcedureOut
from app.web.schemas_durations import DurationsOut
from app.web.strict_json import StrictJson

api_procedures = APIRouter(
    prefix="/api",
    tags=["Leadline"],
    responses=dict.fromkeys((400, 401, 403, 404, 422), PROBLEM),
    route_class=StrictJson,
)

_TEXT = {"schema": {"type": "string"}}
_PROCEDURE_BODY = {
    "requestBody": {
        "required": True,
        "description": "The procedure file itself: YAML or a table in CSV, both UTF-8, or a table in an XLSX workbook.",
        "content": {
            "application/yaml": _TEXT,
            "text/plain": _TEXT,
            CSV_TYPE: _TEXT,
            XLSX_TYPE: {"schema": {}},  # bytes (OpenAPI 3.1.1, 4.7.14.2): a string would be text in UTF-8
        },
    }
}
YAML_TYPES = ("application/yaml", "application/x-yaml", "text/yaml", "text/x-yaml", "text/plain")


@api_procedures.post(
    "/procedures",
    status_code=201,
    response_model=LoadedOut,
    openapi_extra=_PROCEDURE_BODY,
    responses={**SENT, 200: {"model": LoadedOut, "description": "The same text was there already"}},
)
async def add_procedure(
    request: Request, shell: ShellDep, source: Annotated[str, Query(max_length=100)] = "API"
) -> JSONResponse:
    """Check a procedure file and keep it as an immutable revision. All its faults come in one answer."""
    kind = request.headers.get("content-type", "application/yaml").split(";")[0].strip().lower()
    if kind not in (*YAML_TYPES, CSV_TYPE, XLSX_TYPE):
        raise HTTPException(415, f"Send the file as {YAML_TYPES[0]}, text/plain, {CSV_TYPE} or {XLSX_TYPE}.")
    table: Kind | None = "csv" if kind == CSV_TYPE else "xlsx" if kind == XLSX_TYPE else None
    loaded = await shell.uploads.load(await request.body(), source, table)
    stored = await run_in_threadpool(shell.service.shelf.revision, loaded.hash)
    body = _procedure(stored, loaded.prepared)
    remarks = [fault_json(fault) for fault in loaded.remarks]
    return JSONResponse(body | {"is_new": loaded.is_new, "remarks": remarks}, 201 if loaded.is_new else 200)


@api_procedures.get("/procedures", response_model=list[ProcedureOut])
def procedures(shell: ShellDep) -> list[dict[str, Any]]:
    """All revisions, the last loaded first."""
    rows = []
    for stored in shell.service.shelf.revisions():
        try:
            rows.append(_procedure(stored, shell.service.shelf.prepared(stored)))
        except Refused:
            continue  # An older reader took it; the Home page lists its faults.
    return rows


@api_procedures.get("/procedures/{revision}/plan", response_model=PlanOut)
def plan(revision: str, shell: ShellDep) -> dict[str, Any]:
    """The nominal timeline, as `leadline plan --json` prints it."""
    stored = shell.service.shelf.revision(revision)
    return plan_report(shell.service.shelf.prepared(stored))


@api_procedures.get(
    "/procedures/{revision}/durations", response_model=DurationsOut, responses=dict.fromkeys((409, 503), PROBLEM)
)
def durations(
    revision: str,
    shell: ShellDep,
    kind: Literal["live", "rehearsal", "both"] = "both",
    runs: Annotated[list[RunId], Query(alias="run", max_length=200, description="All of that kind if left out.")] = [],  # noqa: B006 - FastAPI copies it
    simulated: Annotated[bool, Query(description="Count what simulated people did too.")] = False,
) -> dict[str, Any]:
    """How long steps took over past runs, and better durations, as `leadline durations --json` prints it."""
    return durations_report(find(shell.service, revision, Asked(kind, tuple(runs), simulated)))


def _procedure(stored: StoredRevision, prepared: Prepared) -> dict[str, Any]:
    return {
        "revision": stored.hash,
        "procedure": stored.procedure,
        "title": stored.title,
        "source": stored.source,
        "loaded_at": instant(stored.loaded_at),
        "plan_finish_s": prepared.plan.end_s,
        "limit_s": prepared.procedure.limits.finish_s,
    }
