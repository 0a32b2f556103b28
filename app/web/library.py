"""The library of runs: the page that finds them, and the form that takes one in from another Leadline."""

from typing import Annotated

from fastapi import APIRouter, File, Query, Response, UploadFile
from fastapi.responses import HTMLResponse
from starlette.concurrency import run_in_threadpool

from app.core.commands import Refusal
from app.reading.run_lines import MOST_BYTES, RunFault
from app.service.finding import Asked, Found, choices, find_runs
from app.service.run_files import import_run, imported_words
from app.web.depends import MeDep, Shell, ShellDep
from app.web.errors import status_of
from app.web.views.library import library_page

library = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

IMPORT = "/runs/import"
LARGEST_SENT = MOST_BYTES + 64 * 1024
"""A little more than the file, for the form around it."""

Said = Annotated[str, Query(max_length=200)]


@library.get("/runs")
def runs_page(
    shell: ShellDep,
    procedure: Said = "",
    revision: Said = "",
    kind: Said = "",
    first: Annotated[str, Query(alias="from", max_length=200)] = "",
    last: Annotated[str, Query(alias="to", max_length=200)] = "",
    person: Said = "",
    page: Annotated[int, Query(ge=1, le=10**6)] = 1,
) -> Response:
    """All runs, the newest first, or those that fit what the form asks for."""
    said = (procedure, revision, kind, first, last, person)
    return _page(shell, Asked(*(each.strip() for each in said)), page)


@library.post(IMPORT)
async def import_file(shell: ShellDep, me: MeDep, file: Annotated[UploadFile | None, File()] = None) -> Response:
    """A run from a file, read beside the event loop; the page says what came of it."""
    if file is None or not file.filename:
        return await run_in_threadpool(_page, shell, refused="Choose the file of a run first.", status=422)
    data, source = await file.read(MOST_BYTES + 1), file.filename
    try:
        found = await shell.uploads.read(lambda: import_run(shell.service, data, source, me.name))
    except RunFault as fault:
        return await run_in_threadpool(_page, shell, refused=f"{fault} Nothing was stored.", status=422)
    except Refusal as refusal:
        return await run_in_threadpool(_page, shell, refused=str(refusal), status=status_of(refusal))
    return await run_in_threadpool(_page, shell, said=imported_words(found))


def _page(
    shell: Shell,
    asked: Asked = Asked(),  # noqa: B008 - a frozen value
    page: int = 1,
    said: str = "",
    refused: str = "",
    status: int = 200,
) -> Response:
    """What can't be asked is said above the form, which stands as it was typed."""
    service = shell.service
    try:
        found = find_runs(service, asked, page)
    except Refusal as refusal:
        found, refused, status = Found((), 0, 1, 1), str(refusal), status_of(refusal)
    context = library_page(service, asked, found, choices(service), said, refused)
    return HTMLResponse(shell.renderer.page("runs.html", context), status)
