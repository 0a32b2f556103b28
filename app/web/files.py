"""GET: procedures as files to keep, and the template of a table. It takes nothing in."""

import re
from typing import Annotated

from fastapi import APIRouter, HTTPException, Query, Response

from app.reading.files import CSV_TYPE, XLSX_TYPE, Kind
from app.service.carrying import carried_file
from app.web.addresses import RunId
from app.web.depends import ShellDep
from app.web.heads import HEAD, log_head
from app.writing.files import NoTable, written
from app.writing.template import template

files = APIRouter(include_in_schema=False)

TYPES: dict[Kind, str] = {
    "yaml": "application/yaml; charset=utf-8",
    "csv": f"{CSV_TYPE}; charset=utf-8",
    "xlsx": XLSX_TYPE,
}
"""RFC 9512 for YAML."""

_TABLES: dict[str, Kind] = {"csv": "csv", "xlsx": "xlsx"}
_LONGEST_NAME = 80
_DEVICE = re.compile(r"(?i)(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?")
"""Names that some systems keep for devices."""


@files.get("/procedures/template.{kind}")
def template_file(kind: str) -> Response:
    table = _TABLES.get(kind)
    if table is None:
        raise HTTPException(404, "The template is there as template.csv and template.xlsx.")
    return _file(template(table), "procedure-template", table)


@files.get("/procedures/{revision}/file.{kind}")
def revision_file(revision: str, kind: str, shell: ShellDep) -> Response:
    """The YAML text as it is kept, or its procedure as a table."""
    stored = shell.service.shelf.revision(revision)
    if kind == "yaml":
        return _file(stored.text.encode(), stored.procedure, "yaml")
    table = _TABLES.get(kind)
    if table is None:
        raise HTTPException(404, "A procedure is there as file.yaml, file.csv and file.xlsx.")
    try:
        made = written(shell.service.shelf.prepared(stored).procedure, table)
    except NoTable as error:
        raise HTTPException(422, str(error)) from error
    return _file(made, stored.procedure, table)


@files.get("/runs/{run}/carried.yaml")
def carried(run: RunId, shell: ShellDep, at: Annotated[str, Query(max_length=20)] = "") -> Response:
    """What the run leaves, or would leave if it ended now (or then), as a procedure file for the next outing."""
    head = log_head(shell, run)
    found = carried_file(shell.service.situation(run, shell.moment(run, at)), run, head=head)
    return _file(found.text.encode(), found.procedure.id, "yaml", **{HEAD: head})


def _file(made: bytes, name: str, kind: Kind, **more: str) -> Response:
    disposition = f'attachment; filename="{safe_name(name)}.{kind}"'
    return Response(made, media_type=TYPES[kind], headers={"Content-Disposition": disposition, **more})


def safe_name(name: str) -> str:
    """A file name without its ending that no system takes for a path, a device or a hidden file."""
    kept = re.sub(r"[^A-Za-z0-9_.-]", "-", name)[:_LONGEST_NAME].strip(".-")
    return f"procedure-{kept}".rstrip("-") if not kept or _DEVICE.fullmatch(kept) else kept
