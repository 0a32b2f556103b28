"""The contexts of the pages that are not of a run: Home, Plan of a revision, errors, the API's own page."""

from dataclasses import dataclass

from app.web.views.plan_page import PlanPage


@dataclass(frozen=True, slots=True)
class ErrorPage:
    title: str
    status: int
    detail: str


@dataclass(frozen=True, slots=True)
class FaultRow:
    line: int
    column: int
    what: str
    remedy: str
    remark: bool


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
    run: int
    title: str
    kind: str
    begun: str
    elapsed: str
    state: str
    lead_words: str
    lead_sign: str
    lead_tone: str
    finish: str


@dataclass(frozen=True, slots=True)
class HomePage:
    runs: tuple[RunRow, ...]
    procedures: tuple[ProcedureRow, ...]
    faulty: tuple[FaultyFile, ...]
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
