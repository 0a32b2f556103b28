"""The debrief of a run, and runs beside each other. It reads what is stored and orders nothing."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.core.commands import Refusal
from app.core.compare import Comparing, compare, ran
from app.core.debrief import Debrief, debrief
from app.core.events import Logged
from app.core.fold import fold
from app.core.lead_so_far import LeadPoint, changes
from app.core.lead_way import Way
from app.core.procedure import Procedure
from app.core.situation import Prepared, Situation
from app.service.aside import aside
from app.service.runs import Service
from app.service.values import Refused
from app.store.faults import RunDamaged
from app.store.library import StoredRun

HERE = 1_000
"""A log of more entries is told in the process aside, so that no mark waits meanwhile. Our own bound."""
MOST_RUNS = 12
"""So many runs are compared at most: as many as there are patterns of lines to tell them apart."""


@dataclass(frozen=True, slots=True)
class ReadRun:
    """A run as it was when it was asked for: what comes in meanwhile changes nothing of what is told."""

    prepared: Prepared
    log: tuple[Logged, ...]
    at_s: int

    @property
    def situation(self) -> Situation:
        return Situation(self.prepared, fold(self.log), self.at_s)

    @property
    def points(self) -> tuple[LeadPoint, ...]:
        """The team's lead at every second at which it turns, from zero to the end."""
        return changes(Way(self.prepared, self.log, self.at_s).points(people=False))


def read_now(service: Service, run: int) -> ReadRun:
    """The run to its end, or to now.

    Raises:
        NoSuchRun: there is none. RunDamaged: it can't be read. Refused: this reader does not take its procedure.
    """
    live = service.run(run)
    return ReadRun(live.prepared, tuple(live.log), max(0, live.now_s()))


def debrief_of(read: ReadRun) -> Debrief:
    """The debrief of a run: whole if it has ended, else so far."""
    if len(read.log) <= HERE:
        return debrief(read.prepared, read.log, read.at_s)
    return aside().call(_far_debrief, read.prepared.base.procedure, read.log, read.at_s)


def _far_debrief(procedure: Procedure, log: Sequence[Logged], at_s: int) -> Debrief:
    return debrief(Prepared(procedure), log, at_s)


def siblings(service: Service, run: int) -> tuple[StoredRun, ...]:
    """The runs of the same procedure that can be read, this one among them, the newest first.

    Its revisions are one procedure where they have one id. Raises NoSuchRun, RunDamaged, Refused for `run` itself.
    """
    wanted = service.run(run).prepared.procedure.id
    return tuple(stored for stored in service.runs() if _procedure_of(service, stored.run) == wanted)


def _procedure_of(service: Service, run: int) -> str:
    """The id of its procedure; empty for a run that can't be read."""
    try:
        return service.run(run).prepared.procedure.id
    except (Refused, RunDamaged):
        return ""


def comparison(service: Service, runs: Sequence[int]) -> Comparing:
    """These runs beside each other, each as it stands now.

    Raises:
        NoSuchRun: one of them is not there. Refusal: none, too many, one twice, or of different procedures.
    """
    if not 2 <= len(runs) <= MOST_RUNS:
        raise Refusal("how-many", f"Choose from 2 to {MOST_RUNS} runs to compare; {len(runs)} were chosen.")
    if len(set(runs)) < len(runs):
        raise Refusal("twice", "A run was chosen twice; choose each once.")
    procedures = {run: service.run(run).prepared.procedure.id for run in runs}
    if len(set(procedures.values())) > 1:
        said = ", ".join(f"run {run} is of {name}" for run, name in procedures.items())
        raise Refusal("other-procedure", f"Only runs of one procedure can be compared: {said}.")
    asked = [(run, read_now(service, run)) for run in runs]
    return compare([ran(run, read.situation, read.log) for run, read in asked])
