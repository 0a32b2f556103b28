"""The contexts of the pages that are not of a run: Home, Plan of a revision, errors, the API's own page."""

from collections.abc import Mapping
from dataclasses import dataclass

from app.reading.faults import ShownLine
from app.web.render import Part
from app.web.views.figures import Lead
from app.web.views.plan_page import PlanPage


@dataclass(frozen=True, slots=True)
class ErrorPage:
    title: str
    status: int
    detail: str


@dataclass(frozen=True, slots=True)
class FaultRow:
    where: str
    what: str
    remedy: str
    remark: bool
    shown: ShownLine | None = None


@dataclass(frozen=True, slots=True)
class ProcedureRow:
    """A revision on the Home page. `older` counts earlier revisions of the same procedure."""

    revision: str
    short: str
    procedure: str
    title: str
    about: str
    source: str
    plan_finish: str
    limit: str
    past_limit: bool
    people: str
    steps: int
    older: int
    remarks: tuple[FaultRow, ...]
    key: str


@dataclass(frozen=True, slots=True)
class FaultyFile:
    name: str
    faults: tuple[FaultRow, ...]


@dataclass(frozen=True, slots=True)
class RunRow:
    """A run on the Home page; its elapsed, lead and finish are figures (`run_figures`)."""

    run: int
    title: str
    kind: str
    begun: str
    simulated: str
    state: str
    lead: Lead


@dataclass(frozen=True, slots=True)
class Contents:
    """What the Home page shows of runs and procedures, before it is made into parts."""

    runs: tuple[RunRow, ...]
    figures: Mapping[str, str]
    procedures: tuple[ProcedureRow, ...]
    faulty: tuple[FaultyFile, ...]


@dataclass(frozen=True, slots=True)
class HomePage:
    """`faults` are those of a file that was just sent and refused, `notice` says so."""

    parts: tuple[Part, ...]
    name: str
    station: str
    notice: str
    faults: tuple[FaultRow, ...]


@dataclass(frozen=True, slots=True)
class RevisionPage:
    """The Plan of a revision, outside any run."""

    plan: PlanPage
    part_id: str
    part_mark: str
    key: str


@dataclass(frozen=True, slots=True)
class ApiPage:
    title: str
