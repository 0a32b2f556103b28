"""GET: a run as a file to keep, and the plan of a procedure as a calendar. It takes nothing in."""

from typing import Annotated

from fastapi import APIRouter, HTTPException, Query, Response

from app.reading.files import CSV_TYPE, XLSX_TYPE
from app.service.run_files import FILE_KINDS, FileKind, run_file
from app.web.addresses import RunId
from app.web.depends import MeDep, ShellDep
from app.web.files import safe_name
from app.web.heads import HEAD
from app.web.withheld import may_see_all
from app.writing.calendar_file import calendar, read_zero

run_files = APIRouter(include_in_schema=False)

TYPES: dict[FileKind, str] = {
    "csv": f"{CSV_TYPE}; charset=utf-8",
    "xlsx": XLSX_TYPE,
    "xes": "application/xml",
    "jsonl": "application/jsonl; charset=utf-8",
}
"""JSON Lines has no registered type; this one is common practice, no source. XES is XML (RFC 7303)."""


@run_files.get("/runs/{run}/as-run.{kind}")
def as_run_file(run: RunId, kind: str, shell: ShellDep, me: MeDep) -> Response:
    """The run as it stands now, and the head of its log in a header."""
    if kind not in FILE_KINDS:
        raise HTTPException(404, f"A run is there as {', '.join(f'as-run.{each}' for each in FILE_KINDS)}.")
    whole = may_see_all(shell.service.run(run).state, me.visitor.may)
    found = run_file(shell.service, run, kind, whole)
    named = {"Content-Disposition": f'attachment; filename="{found.name}"', HEAD: found.head}
    return Response(found.data, media_type=TYPES[kind], headers=named)


@run_files.get("/procedures/{revision}/plan.ics")
def plan_calendar(revision: str, shell: ShellDep, zero: Annotated[str, Query(max_length=60)] = "") -> Response:
    """The plan as a calendar, from a zero that the address gives; without one it says what is missing."""
    stored = shell.service.shelf.revision(revision)
    made = calendar(shell.service.shelf.prepared(stored), stored.hash, read_zero(zero), stored.loaded_at)
    named = {"Content-Disposition": f'attachment; filename="{safe_name(stored.procedure)}-plan.ics"'}
    return Response(made, media_type="text/calendar; charset=utf-8", headers=named)
