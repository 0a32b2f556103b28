"""`leadline durations`: how long steps took over the stored runs of a procedure, and a file with better durations."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from app.cli_files import Replace, fail, fault_line, write
from app.cli_store import Data, Database, opened
from app.core.times import duration

if TYPE_CHECKING:
    from app.core.durations import StepDurations
    from app.core.procedure import Takes
    from app.service.durations import Found

Of = Annotated[str, typer.Argument(help="A procedure's id (its last loaded revision), or a revision's hash.")]
Kind = Annotated[str, typer.Option(help="Of which runs: live, rehearsal or both.")]
Runs = Annotated[list[int] | None, typer.Option("--run", help="A run to ask, all if not given. May be given again.")]
Simulated = Annotated[bool, typer.Option("--simulated", help="Count what simulated people did too.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print the fixed JSON form.")]
Propose = Annotated[bool, typer.Option("--propose", help="Print the difference that the proposed durations make.")]
Steps = Annotated[
    list[str] | None, typer.Option("--step", help="A step to change, all if not given. May be given again.")
]
To = Annotated[
    Path | None, typer.Option("--write", help="Write the procedure with the proposed durations: a .yaml file.")
]


def durations(
    procedure: Of,
    kind: Kind = "both",
    run: Runs = None,
    simulated: Simulated = False,
    as_json: AsJson = False,
    propose: Propose = False,
    step: Steps = None,
    to: To = None,
    replace: Replace = False,
    data: Data = None,
    database: Database = None,
) -> None:
    """Print how long each step took over past runs, and better durations. No server may be running on the data."""
    from app.service.durations import Asked, durations_report, find
    from app.service.runs import Service
    from app.service.values import Refused

    if to is not None and to.suffix.lower() not in (".yaml", ".yml"):
        fail(f"{to}: the name must end in .yaml. `leadline convert` makes a table of it.", 2)
    with opened(data, make=False, database=database) as store:
        try:
            found = find(Service(store), procedure, Asked(kind, tuple(run or ()), simulated))
        except Refused as refused:
            fail("\n".join(fault_line(Path(procedure), fault) for fault in refused.faults))
        if propose or to is not None:
            _draft(found, tuple(step or ()), propose, to, replace)
        elif as_json:
            print(json.dumps(durations_report(found), indent=1, ensure_ascii=False))
        else:
            print("\n".join(_lines(found)))


def _draft(found: "Found", steps: tuple[str, ...], propose: bool, to: Path | None, replace: bool) -> None:
    from app.service.durations import draft

    known = {each.step.id for each in found.steps}
    for each in steps:
        if each not in known:
            fail(f"There is no step {each}.")
    made = draft(found, steps or found.changed)
    for sentence in made.left_out:
        typer.echo(f"{sentence} It is left as it is.", err=True)
    if propose:
        print(made.difference, end="")
    if to is not None:
        write(to, made.text.encode(), replace)


RULE = (
    "ratio: the runs' median to the plan's likely duration.",
    "The rule: medians are weighed, n runs n / (n + k), the plan the rest; k is how much the step varies over how far",
    "plans are off (Bühlmann's credibility, ASTIN Bulletin 4 (1967) 199-207). The points lie about the median as those",
    "of the plan do about its own, farther or closer by how much the runs vary.",
)


def _lines(found: "Found") -> Iterator[str]:
    from app.service.durations import left_out_words

    asked = [each.stored.run for each in found.runs if each.asked]
    yield f"{found.stored.title}: {len(asked)} of {len(found.runs)} runs asked"
    for choice in found.runs:
        if choice.why:
            yield f"run {choice.stored.run} is left out: {choice.why}"
    if found.simulated_left_out:
        runs = ", ".join(map(str, found.simulated_left_out))
        yield f"What simulated people did is left out (run {runs}): they draw from the plan. --simulated counts it."
    yield f"{'step':26} {'planned':>22} {'n':>3} {'median':>9} {'ten to ninety':>20} {'ratio':>6} {'proposed':>26}"
    for steps, proposed in zip(found.steps, found.proposals, strict=True):
        new = _points(proposed.takes) if proposed.changed else "as planned"
        yield f"{steps.step.id:26} {_points(steps.step.takes):>22} {_seen(steps)} {new:>26}"
    for steps, proposed in zip(found.steps, found.proposals, strict=True):
        if proposed.weight:
            yield f"{proposed.step.id}: {proposed.reason}"
        for why in left_out_words(steps.left_out):
            yield f"{proposed.step.id}: without {why}"
    yield from RULE


def _seen(steps: "StepDurations") -> str:
    from app.core.durations import HIGH, LOW

    seen = steps.sample
    if seen is None:
        return f"{0:>3} {'-':>9} {'-':>20} {'-':>6}"
    between = f"{duration(round(seen.quantile(LOW)))} to {duration(round(seen.quantile(HIGH)))}"
    ratio = "-" if steps.ratio is None else f"{steps.ratio:.2f}"
    return f"{seen.n:>3} {duration(round(seen.median)):>9} {between:>20} {ratio:>6}"


def _points(takes: "Takes") -> str:
    if takes.optimistic_s is None or takes.pessimistic_s is None:
        return duration(takes.likely_s)
    return ", ".join(duration(each) for each in (takes.optimistic_s, takes.likely_s, takes.pessimistic_s))
