"""How long steps took over the stored runs of a procedure, and better durations as a text to review. It loads none."""

from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from app.core.commands import Refusal
from app.core.durations import HIGH, LOW, SIMULATED, PastRun, StepDurations, Told, durations
from app.core.procedure import Procedure, StepId, Takes
from app.core.signs import shown
from app.core.situation import Prepared
from app.service.runs import Service
from app.service.values import KINDS, Refused
from app.store.faults import RunDamaged
from app.store.library import StoredRevision, StoredRun, hash_of
from app.writing.revise import NotRevised, Revision, difference, revised

if TYPE_CHECKING:
    from app.core.proposing import Proposal

BOTH = "both"
MOST_RUNS = 50
"""The newest so many are asked: each is read whole. Our own bound; more would move no median."""
LONGEST_SOURCE = 60
WEIGHED = "it began before this revision, whose durations are from runs, and may be in them: choose it to count it"


@dataclass(frozen=True, slots=True)
class Asked:
    """Over which runs: `kind` is ``live``, ``rehearsal`` or ``both``; `runs` by number, all of that kind if empty.

    `simulated`: what simulated people did counts too.
    """

    kind: str = BOTH
    runs: tuple[int, ...] = ()
    simulated: bool = False


@dataclass(frozen=True, slots=True)
class RunChoice:
    """A run of the procedure. `asked`: its durations are among those found. `why`: in words where they can't be.

    `ended` is None of a run that nobody has read.
    """

    stored: StoredRun
    same_revision: bool
    ended: bool | None
    asked: bool
    why: str = ""


@dataclass(frozen=True, slots=True)
class Found:
    """What the runs tell, and what is proposed from it; `steps` and `proposals` in file order."""

    stored: StoredRevision
    prepared: Prepared
    asked: Asked
    runs: tuple[RunChoice, ...]
    steps: tuple[StepDurations, ...]
    proposals: "tuple[Proposal, ...]"

    @property
    def procedure(self) -> Procedure:
        return self.prepared.procedure

    @property
    def changed(self) -> tuple[StepId, ...]:
        """The steps for which something else than the plan is proposed."""
        return tuple(each.step.id for each in self.proposals if each.changed)

    @property
    def simulated_left_out(self) -> tuple[int, ...]:
        """The runs of which something was left out because simulated people did it."""
        runs = {one.run for each in self.steps for one in each.told if one.why == SIMULATED}
        return tuple(each.stored.run for each in self.runs if each.stored.run in runs)


@dataclass(frozen=True, slots=True)
class Draft:
    """A text with better durations: what would be loaded as a revision of this `hash`, and how it differs.

    `left_out`: in sentences, which steps can't be given theirs in this text, and why.
    """

    text: str
    hash: str
    source: str
    steps: tuple[StepId, ...]
    difference: str
    prepared: Prepared
    left_out: tuple[str, ...] = ()


def find(service: Service, revision: str, asked: Asked) -> Found:
    """What the runs of a procedure tell of the steps of one revision of it.

    Raises:
        NoSuchRevision, Refused: see `Shelf`. RunDamaged: the list of runs can't be read.
        Refusal: an unknown kind, or a run that is none of this procedure.
    """
    # It needs NumPy, which a server that nobody asks for this does without.
    from app.core.proposing import proposals

    if asked.kind not in (*KINDS, BOTH):
        raise Refusal("unknown-kind", f"Runs are live, rehearsal or both, not {asked.kind[:40]!r}.")
    stored = service.shelf.revision(revision)
    prepared = service.shelf.prepared(stored)
    revisions = {each.hash for each in service.shelf.revisions() if each.procedure == stored.procedure}
    runs = tuple(run for run in service.runs() if run.revision in revisions)
    strangers = [run for run in asked.runs if run not in {each.run for each in runs}]
    if strangers:
        raise Refusal("unknown", f"Run {strangers[0]} is no run of {stored.procedure} here.")
    past: list[PastRun] = []
    choices = tuple(_asked(service, stored, asked, runs, past))
    found = durations(prepared.procedure, past, asked.simulated)
    return Found(stored, prepared, asked, choices, found, proposals(prepared.procedure, found))


def _asked(
    service: Service, stored: StoredRevision, asked: Asked, runs: tuple[StoredRun, ...], past: list[PastRun]
) -> Iterator[RunChoice]:
    """Each run, the newest first; those that are asked are put into `past`, while there is room."""
    for run in runs:
        wanted = asked.kind in (run.kind, BOTH) and (not asked.runs or run.run in asked.runs)
        why, ended = "", None
        if wanted and run.run not in asked.runs and is_weighed(stored, run):
            wanted, why = False, WEIGHED
        if wanted and len(past) >= MOST_RUNS:
            wanted, why = False, f"only the newest {MOST_RUNS} are asked"
        try:
            if wanted or service.holds(run.run):
                live = service.run(run.run)
                ended = live.state.ended_s is not None
                if wanted:
                    past.append(PastRun(run.run, run.kind, service.situation(run.run), tuple(live.log)))
        except (RunDamaged, Refused):
            wanted, why = False, f"what is stored of it can't be read: “leadline verify {run.run}” says why"
        yield RunChoice(run, run.revision == stored.hash, ended, wanted, why)


def is_weighed(stored: StoredRevision, run: StoredRun) -> bool:
    """Whether a run may be in the plan already: the plan's durations are from runs, and this one was before it."""
    return stored.source.endswith(DRAFTED) and run.started_at <= stored.loaded_at


def draft(found: Found, steps: Collection[StepId]) -> Draft:
    """The text of the revision with the proposed durations of these steps.

    Raises:
        Refusal: none of them has a proposal, or the text can't be given them.
    """
    takes: dict[StepId, Takes] = {
        each.step.id: each.takes for each in found.proposals if each.changed and each.step.id in steps
    }
    if not takes:
        raise Refusal("no-proposal", "No other duration is proposed for these steps: the plan stands.")
    made, left_out = _revised(found.stored.text, takes)
    source, short = " ".join(shown(found.stored.source).split()), found.stored.hash[:12]
    diff = difference(found.stored.text, made.text, f"{source} (revision {short})", f"{source} (proposed)")
    named = source[:LONGEST_SOURCE].removesuffix(DRAFTED) + DRAFTED
    return Draft(made.text, hash_of(made.text), named, tuple(takes), diff, Prepared(made.procedure), left_out)


def _revised(text: str, takes: dict[StepId, Takes]) -> tuple[Revision, tuple[str, ...]]:
    """The new text, and why some steps are not in it; those are taken out of `takes`.

    Raises:
        Refusal: nothing is left, or what is wrong is not one step's.
    """
    left_out: list[str] = []
    while True:
        try:
            return revised(text, takes), tuple(left_out)
        except NotRevised as why:
            if why.step not in takes or len(takes) == 1:
                raise Refusal("no-file", " ".join([*left_out, str(why)])) from why
            left_out.append(str(why))
            del takes[why.step]


DRAFTED = ", durations from runs"
"""Added to the name of the file that a revision came from."""


def durations_report(found: Found) -> dict[str, Any]:
    """All of it as plain JSON values, the fixed form that scripts rely on. Seconds; `ratio` is to the likely one."""
    return {
        "revision": found.stored.hash,
        "procedure": found.stored.procedure,
        "title": found.stored.title,
        "kind": found.asked.kind,
        "simulated": found.asked.simulated,
        "runs": [
            {
                "run": each.stored.run,
                "kind": each.stored.kind,
                "revision": each.stored.revision,
                "ended": each.ended,
                "asked": each.asked,
                "why": each.why or None,
            }
            for each in found.runs
        ],
        "steps": [_step(*each) for each in zip(found.steps, found.proposals, strict=True)],
    }


def _step(found: StepDurations, proposed: "Proposal") -> dict[str, Any]:
    seen = found.sample
    return {
        "id": found.step.id,
        "do": found.step.do,
        "who": list(found.step.who),
        "planned": _takes(found.step.takes),
        "n": 0 if seen is None else seen.n,
        "median_s": None if seen is None else seen.median,
        "low_s": None if seen is None else seen.quantile(LOW),
        "high_s": None if seen is None else seen.quantile(HIGH),
        "ratio": None if found.ratio is None else round(found.ratio, 4),
        "planned_median_s": None if proposed.planned_median_s is None else round(proposed.planned_median_s, 1),
        "ratio_to_median": None if proposed.ratio is None else round(proposed.ratio, 4),
        "took": [{"run": each.run, "took_s": each.took_s} for each in found.told if each.took_s is not None],
        "left_out": [{"run": each.run, "why": each.why} for each in found.left_out],
        "proposed": _takes(proposed.takes),
        "weight": round(proposed.weight, 4),
        "changed": proposed.changed,
        "reason": proposed.reason,
    }


def runs_words(runs: Sequence[int]) -> str:
    """``run 3``, ``runs 3, 5``; empty for none."""
    return f"run{'s' if runs[1:] else ''} {', '.join(map(str, runs))}" if runs else ""


def left_out_words(told: Sequence[Told]) -> tuple[str, ...]:
    """``run 3: not marked``; runs with the same reason together. What was simulated is told once for all steps."""
    reasons: dict[str, list[int]] = defaultdict(list)
    for each in told:
        if each.why != SIMULATED:
            reasons[each.why].append(each.run)
    return tuple(f"{runs_words(runs)}: {why}" for why, runs in reasons.items())


def _takes(takes: Takes) -> dict[str, int | None]:
    return {
        "optimistic_s": takes.optimistic_s,
        "likely_s": takes.likely_s,
        "pessimistic_s": takes.pessimistic_s,
    }
