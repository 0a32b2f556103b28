"""The pages of durations over past runs: what they were, what is proposed, and its review before it is stored."""

from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.concurrency import run_in_threadpool

from app.core.commands import Refusal
from app.core.procedure import StepId
from app.service.durations import BOTH, Asked, Draft, Found, draft, find
from app.web.actions import Sent
from app.web.addresses import RunId
from app.web.depends import Shell, ShellDep
from app.web.errors import status_of
from app.web.views.durations_page import durations_page, hidden, review_page

durations_pages = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

NOTHING_TICKED = "Tick at least one proposal; nothing was done."
MOVED_ON = "The runs have gone on, or the choice is another one, since that was shown. Look at this difference; "


@durations_pages.get("/procedures/{revision}/durations")
def shown_durations(
    revision: str,
    shell: ShellDep,
    kind: str = BOTH,
    runs: Annotated[list[RunId], Query(alias="run")] = [],  # noqa: B006 - FastAPI copies it
    simulated: str = "",
) -> str:
    found = find(shell.service, revision, Asked(kind, tuple(runs), bool(simulated)))
    return shell.renderer.page("durations.html", durations_page(found))


@durations_pages.post("/procedures/{revision}/durations")
async def propose(revision: str, request: Request, shell: ShellDep) -> Response:
    """The difference that the ticked proposals make; with `expect`, the text of that hash is stored."""
    form = Sent(await request.form())
    found, made, refusal = await run_in_threadpool(_drafted, shell, revision, form)
    if made is None:
        page = durations_page(found, refusal[0])
        return HTMLResponse(shell.renderer.page("durations.html", page), refusal[1])
    if form.first("expect") == made.hash:
        loaded = await shell.uploads.load(made.text.encode(), made.source, "yaml")
        return RedirectResponse(f"/procedures/{loaded.hash}", 303)
    moved = bool(form.first("expect"))
    back = f"/procedures/{found.stored.hash}/durations?{urlencode(hidden(found))}"
    page_of = review_page(found, made, back, f"{MOVED_ON}nothing was stored." if moved else "")
    return HTMLResponse(shell.renderer.page("durations_review.html", page_of), 409 if moved else 200)


def _drafted(shell: Shell, revision: str, form: Sent) -> tuple[Found, Draft | None, tuple[str, int]]:
    """What the runs tell, and the text to review; or why there is none, as a sentence with its status.

    Raises:
        Refusal: the choice of runs can't be read.
    """
    form.refuse_long()
    found = find(shell.service, revision, _asked(form))
    steps: tuple[StepId, ...] = form.each("step")
    if not steps:
        return found, None, (NOTHING_TICKED, 422)
    try:
        return found, draft(found, steps), ("", 200)
    except Refusal as refusal:
        return found, None, (str(refusal), status_of(refusal))


def _asked(form: Sent) -> Asked:
    """Raises Refusal: a run is no number."""
    runs = form.each("run")
    if not all(run.isascii() and run.isdigit() and len(run) < 16 for run in runs):
        raise Refusal("not-a-number", "A run is named by its number, in digits.")
    return Asked(form.first("kind") or BOTH, tuple(int(run) for run in runs), bool(form.first("simulated")))
