"""The page of all runs: which were found, how each went, what can be had of it. It asks the service for each one."""

import re
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from app.core.rehearsal import simulated_words
from app.core.situation import Situation, StepState
from app.core.times import clock, instant
from app.service.finding import Asked, Choices, Found
from app.service.run_files import FILE_KINDS
from app.service.runs import Service
from app.service.values import Refused
from app.store.faults import RunDamaged
from app.store.library import StoredRun
from app.web.views.figures import Lead, team_lead

_NAMES = {"csv": "CSV", "xlsx": "XLSX", "xes": "XES", "jsonl": "JSON Lines"}
_DAY = re.compile(r"[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])")
_OVER = (StepState.DONE, StepState.PUT_OFF, StepState.NOT_NEEDED)


@dataclass(frozen=True, slots=True)
class FoundRun:
    """A run of the page.

    Attributes:
        state: where it stands, in words. finish: its finish, or where it ended, against plan_finish; lead: the same as
            a lead, None where it ended with steps open.
        origin: where it came from, in words; empty for a run that was made here.
        fault: why it can't be shown; then only what its row says is there.
        files: (name, address).
    """

    run: int
    title: str
    kind: str
    simulated: str
    revision: str
    short: str
    zero: str
    state: str
    finish: str
    plan_finish: str
    lead: Lead | None
    origin: str
    fault: str
    files: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class LibraryPage:
    """`said`: what an import did. `refused`: why one, or what was asked, could not be done.

    `procedures`: (id, title) of those that have runs. `newer`, `older`: addresses of the pages beside; empty at an end.
    """

    asked: Asked
    runs: tuple[FoundRun, ...]
    number: int
    page: int
    pages: int
    newer: str
    older: str
    filtered: bool
    procedures: tuple[tuple[str, str], ...]
    people: tuple[str, ...]
    said: str
    refused: str


def address(asked: Asked, page: int) -> str:
    """Of a page of what was asked, in the names that its form sends."""
    said = {"procedure": asked.procedure, "revision": asked.revision, "kind": asked.kind}
    said |= {"from": asked.first, "to": asked.last, "person": asked.person}
    kept = {name: value for name, value in said.items() if value} | ({"page": str(page)} if page > 1 else {})
    return f"/runs?{urlencode(kept)}" if kept else "/runs"


def library_page(
    service: Service, asked: Asked, found: Found, choices: Choices, said: str = "", refused: str = ""
) -> LibraryPage:
    """The page of what was found."""
    return LibraryPage(
        asked=replace(asked, first=_day(asked.first), last=_day(asked.last)),
        runs=tuple(_row(service, stored, choices.titles.get(stored.revision, "")) for stored in found.runs),
        number=found.number,
        page=found.page,
        pages=found.pages,
        newer=address(asked, found.page - 1) if found.page > 1 else "",
        older=address(asked, found.page + 1) if found.page < found.pages else "",
        filtered=asked != Asked(),
        procedures=choices.procedures,
        people=choices.people,
        said=said,
        refused=refused,
    )


def _day(said: str) -> str:
    """A field for a day takes nothing else, and the browser complains of it."""
    return said if _DAY.fullmatch(said) else ""


def _row(service: Service, stored: StoredRun, title: str) -> FoundRun:
    try:
        situation = service.situation(stored.run)
    except (Refused, RunDamaged):
        fault = f"It can't be shown: “leadline verify {stored.run}” says why."
        return _found(stored, title, fault=fault)
    finish, lead = _finish(situation)
    simulated = simulated_words(situation.state.rehearsal, situation.network.crew)
    return _found(stored, title, _state(stored, situation), finish, clock(situation.plan.end_s), lead, simulated)


def _found(
    stored: StoredRun,
    title: str,
    state: str = "",
    finish: str = "",
    plan_finish: str = "",
    lead: Lead | None = None,
    simulated: str = "",
    fault: str = "",
) -> FoundRun:
    files = () if fault else tuple((_NAMES[kind], f"/runs/{stored.run}/as-run.{kind}") for kind in FILE_KINDS)
    return FoundRun(
        run=stored.run,
        title=title,
        kind=stored.kind,
        simulated=simulated,
        revision=stored.revision,
        short=stored.revision[:7],
        zero=instant(stored.zero_utc)[:16].replace("T", " "),
        state=state,
        finish=finish,
        plan_finish=plan_finish,
        lead=lead,
        origin=origin_words(stored),
        fault=fault,
        files=files,
    )


def origin_words(stored: StoredRun) -> str:
    """Where an imported run came from; empty for one that was made here."""
    origin = stored.origin
    if origin is None:
        return ""
    when = instant(origin.imported_at)[:16].replace("T", " ")
    return f"imported {when} UTC by {origin.by} from {origin.source or 'a file'}; run {origin.run} where it was made"


def _state(stored: StoredRun, situation: Situation) -> str:
    if situation.state.ended_s is not None:
        return "ended"
    return "under way" if stored.origin is None else "not ended in this record"


def _finish(situation: Situation) -> tuple[str, Lead | None]:
    """When it finished or will by the projection. A run that ended with steps open has no finish to compare."""
    ended_s, network = situation.state.ended_s, situation.network
    left = sum(
        1
        for number, state in enumerate(situation.states)
        if state not in (*_OVER, None) and (number >= len(network.nominal) or network.nominal[number])
    )
    if ended_s is not None and left:
        return f"{clock(ended_s)}, {left} step{'' if left == 1 else 's'} open", None
    return clock(situation.projection.end_s), team_lead(situation)
