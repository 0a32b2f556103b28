"""The Home page's context: procedures with their plan finish and faults, runs, and who is at this station."""

from collections.abc import Iterable, Iterator

from app.core.rehearsal import simulated_words
from app.core.situation import Situation
from app.core.times import clock, instant
from app.reading.faults import PlacedFault
from app.service.runs import Service
from app.service.values import Refused
from app.store.faults import RunDamaged
from app.store.library import StoredRevision, StoredRun
from app.web.depends import Me, Shell
from app.web.keys import new_key
from app.web.next_step import next_step
from app.web.pages_context import Contents, FaultRow, FaultyFile, HomePage, ProcedureRow, RunRow
from app.web.render import Part
from app.web.views.figures import run_figures, team_lead
from app.web.visitor import VISITOR


def home(shell: Shell, me: Me, notice: str = "", faults: Iterable[PlacedFault] = ()) -> HomePage:
    """`faults` are those of a file that was just sent and refused."""
    return HomePage(home_parts(shell), me.name, me.station, notice, fault_rows(faults))


def home_parts(shell: Shell) -> tuple[Part, ...]:
    """What to do next, the runs and the procedures, each a part that follows a change."""
    shelf, visitor = _shelf(shell.service), VISITOR.get()
    step = next_step(shelf, visitor.may, visitor.open)
    return (
        shell.renderer.part("home-next", "_home_next.html", next=step),
        *(shell.renderer.part(f"home-{name}", f"_home_{name}.html", shelf=shelf) for name in ("runs", "procedures")),
    )


def _shelf(service: Service) -> Contents:
    revisions = service.shelf.revisions()
    newest: dict[str, StoredRevision] = {}
    for stored in revisions:
        newest.setdefault(stored.procedure, stored)
    older = {name: sum(1 for each in revisions if each.procedure == name) - 1 for name in newest}
    refused = tuple(
        FaultyFile(report.name, fault_rows(report.faults)) for report in service.shelf.files if report.hash is None
    )
    figures: dict[str, str] = {}
    return Contents(
        runs=tuple(run for stored in service.runs() if (run := _run(service, stored, figures))),
        figures=figures,
        procedures=tuple(row for stored in newest.values() if (row := _procedure(service, stored, older))),
        faulty=refused + _no_longer_read(service, revisions) + tuple(_damaged(service)),
    )


def fault_rows(faults: Iterable[PlacedFault]) -> tuple[FaultRow, ...]:
    return tuple(FaultRow(each.where, each.what, each.remedy, each.remark, each.shown) for each in faults)


def _procedure(service: Service, stored: StoredRevision, older: dict[str, int]) -> ProcedureRow | None:
    try:
        prepared = service.shelf.prepared(stored)
    except Refused:
        return None
    procedure = prepared.procedure
    limit_s = procedure.limits.finish_s
    remarks = next((report.faults for report in service.shelf.files if report.hash == stored.hash), ())
    return ProcedureRow(
        revision=stored.hash,
        short=stored.hash[:7],
        procedure=stored.procedure,
        title=stored.title,
        about=procedure.about,
        source=stored.source,
        plan_finish=clock(prepared.plan.end_s),
        limit="none" if limit_s is None else clock(limit_s),
        past_limit=limit_s is not None and prepared.plan.end_s > limit_s,
        people=", ".join(person.designator for person in procedure.crew),
        steps=len(procedure.steps),
        older=older[stored.procedure],
        remarks=fault_rows(remarks),
        key=new_key(),
    )


def _no_longer_read(service: Service, revisions: Iterable[StoredRevision]) -> tuple[FaultyFile, ...]:
    """Stored revisions that an earlier reader took and this one refuses."""
    found = []
    for stored in revisions:
        try:
            service.shelf.prepared(stored)
        except Refused as refused:
            found.append(FaultyFile(f"{stored.source} ({stored.hash[:7]})", fault_rows(refused.faults)))
    return tuple(found)


def _damaged(service: Service) -> Iterator[FaultyFile]:
    for stored in service.runs():
        try:
            service.run(stored.run)
        except Refused:
            continue
        except RunDamaged:
            remedy = f"“leadline verify {stored.run}” says what; the other runs are as they were"
            yield FaultyFile(f"Run {stored.run}", (FaultRow("log", "what is stored of it is damaged", remedy, False),))


def _run(service: Service, stored: StoredRun, figures: dict[str, str]) -> RunRow | None:
    """None for a run whose procedure this reader refuses, or that is damaged; its faults are listed."""
    try:
        situation = service.situation(stored.run)
    except (Refused, RunDamaged):
        return None
    figures.update(run_figures(stored.run, situation))
    return RunRow(
        run=stored.run,
        title=situation.procedure.title,
        kind=stored.kind,
        simulated=simulated_words(situation.state.rehearsal, situation.network.crew),
        begun=instant(stored.zero_utc)[:16].replace("T", " "),
        state=_state(stored, situation),
        lead=team_lead(situation),
    )


def _state(stored: StoredRun, situation: Situation) -> str:
    if situation.state.ended_s is not None:
        return "ended" if stored.origin is None else "ended, imported"
    return "under way" if stored.origin is None else "imported"
