"""GET: the debrief of a run, as a page and as a file to keep, and runs beside each other. It takes nothing in."""

import base64
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Query, Response
from fastapi.responses import HTMLResponse
from markupsafe import Markup

from app.core.commands import Refusal
from app.core.heads import head_of
from app.core.rehearsal import simulated_words
from app.service.debriefs import ReadRun, comparison, debrief_of, read_now, siblings
from app.service.values import Refused
from app.store.faults import RunDamaged
from app.store.library import StoredRevision, StoredRun
from app.web.addresses import RunId
from app.web.depends import Shell, ShellDep
from app.web.files import safe_name
from app.web.views.compare import Choice, ComparePage, Found, comparison_rows, run_words
from app.web.views.debrief import DebriefPage, page_tabs, told
from app.web.views.overlay import Course, overlay

debrief_pages = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

OTHERS = 4
"""On a debrief so many other runs of the procedure, the newest, are laid over it; the comparison takes more."""


@debrief_pages.get("/runs/{run}/debrief")
def debrief_page(run: RunId, shell: ShellDep) -> str:
    return _debrief(shell, run, read_now(shell.service, run), Markup())


@debrief_pages.get("/runs/{run}/debrief.html")
def debrief_file(run: RunId, shell: ShellDep) -> Response:
    """The same, to keep: one file with all that it needs, which opens with no server."""
    read = read_now(shell.service, run)
    page = _debrief(shell, run, read, _styles(shell.settings.static))
    name = f"{safe_name(read.prepared.procedure.id)}-run-{run}-debrief.html"
    return HTMLResponse(page, headers={"Content-Disposition": f'attachment; filename="{name}"'})


def _debrief(shell: Shell, run: int, read: ReadRun, css: Markup) -> str:
    family = siblings(shell.service, run)
    chosen = [run, *[each.run for each in family if each.run != run][:OTHERS]]
    courses = [_course(shell, each, run, read if each == run else None) for each in chosen]
    situation = read.situation
    found = told(run, situation, debrief_of(read), courses, head_of(read.log))
    chart = shell.renderer.part("lead", "_lead_chart.html", chart=found.chart, chart_heading="Lead over time").html
    page = DebriefPage(
        told=found,
        chart_part=chart,
        tabs=page_tabs(run, situation),
        compare=f"/compare?{'&'.join(f'run={each}' for each in reversed(chosen))}" if len(chosen) > 1 else "",
        alone=bool(css),
        css=css,
    )
    return shell.renderer.page("debrief.html", page)


def _course(shell: Shell, run: int, here: int | None, read: ReadRun | None = None) -> Course:
    now = read or read_now(shell.service, run)
    situation = now.situation
    ended = situation.state.ended_s is not None
    return Course(
        run=run,
        name=f"run {run}",
        revision=situation.state.revision,
        state="ended" if ended else "goes on, finish as projected",
        finish_s=situation.projection.end_s,
        plan_finish_s=situation.plan.end_s,
        points=now.points,
        here=run == here,
    )


@lru_cache(4)
def _styles(static: Path) -> Markup:
    """The page's style sheets as an element with the font in them: our own files, and nothing that anybody typed."""
    font = base64.b64encode((static / "vendor" / "inter.woff2").read_bytes()).decode()
    sheets = "".join((static / name).read_text(encoding="utf-8") for name in ("leadline.css", "debrief.css"))
    return Markup(f"<style>{sheets.replace('vendor/inter.woff2', f'data:font/woff2;base64,{font}')}</style>")


# Runs beside each other


@debrief_pages.get("/compare")
def compare_page(
    shell: ShellDep,
    runs: Annotated[list[RunId], Query(alias="run", max_length=100)] = [],  # noqa: B006 - FastAPI copies it
    procedure: Annotated[str, Query(max_length=140)] = "",
) -> str:
    """The runs asked for, beside each other, with a form to choose others of the same procedure."""
    revisions = shell.service.shelf.revisions()
    groups = _by_procedure(revisions, shell.service.runs())
    wanted = procedure if procedure in groups else _first(groups, runs)
    titles = {each.procedure: each.title for each in reversed(revisions)}
    found, refusal = _compared(shell, runs)
    page = ComparePage(
        title="Compare runs",
        procedure=wanted,
        choices=tuple(_choices(shell, groups.get(wanted, ()), runs)),
        procedures=tuple((name, titles[name], len(each)) for name, each in groups.items()),
        found=found,
        refusal=refusal,
    )
    return shell.renderer.page("compare.html", page)


def _by_procedure(revisions: Iterable[StoredRevision], runs: Iterable[StoredRun]) -> dict[str, list[StoredRun]]:
    """The runs by the id of their procedure, the newest first. None is read for that."""
    named = {each.hash: each.procedure for each in revisions}
    groups: dict[str, list[StoredRun]] = {}
    for stored in runs:
        if stored.revision in named:
            groups.setdefault(named[stored.revision], []).append(stored)
    return groups


def _first(groups: dict[str, list[StoredRun]], runs: Sequence[int]) -> str:
    """The procedure of the first run asked for; without one, that with the newest run."""
    asked = (name for name, each in groups.items() if runs and runs[0] in {stored.run for stored in each})
    return next(asked, next(iter(groups), ""))


def _choices(shell: Shell, group: Iterable[StoredRun], runs: Sequence[int]) -> Iterator[Choice]:
    """Of one procedure, each run that can be read."""
    for stored in group:
        try:
            yield _choice(shell, stored, runs)
        except (Refused, RunDamaged):
            continue


def _choice(shell: Shell, stored: StoredRun, runs: Sequence[int]) -> Choice:
    live = shell.service.run(stored.run)
    state = live.state
    simulated = simulated_words(state.rehearsal, live.prepared.network.crew)
    begun = state.zero_utc[:16].replace("T", " ")
    words = run_words(stored.run, state.kind, simulated, state.revision, begun, state.ended_s)
    return Choice(stored.run, words, stored.run in runs)


def _compared(shell: Shell, runs: Sequence[int]) -> tuple[Found | None, str]:
    """The comparison, or in words why there is none; nothing is said while nothing was asked. Raises NoSuchRun."""
    if not runs:
        return None, ""
    try:
        found = comparison(shell.service, runs)
    except Refusal as refusal:
        return None, str(refusal)
    within_s = shell.service.run(runs[0]).prepared.procedure.on_plan_within_s
    drawn = overlay([_course(shell, run, None) for run in runs])
    return comparison_rows(found, drawn, within_s), ""
