"""How long steps took over past runs, and what is proposed, as a page; and the review of it. It computes no figure."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from app.core.durations import HIGH, LOW, StepDurations
from app.core.procedure import Takes, Task
from app.core.situation import Prepared
from app.core.times import clock, duration
from app.service.durations import BOTH, Draft, Found, RunChoice, left_out_words, runs_words
from app.service.values import KINDS
from app.web.charts import Axis, Box

if TYPE_CHECKING:
    from app.core.proposing import Proposal

KIND_WORDS = {BOTH: "Live runs and rehearsals", "live": "Live runs", "rehearsal": "Rehearsals"}


@dataclass(frozen=True, slots=True)
class Option:
    value: str
    words: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class RunOption:
    run: int
    words: str
    chosen: bool
    why: str


@dataclass(frozen=True, slots=True)
class Picture:
    """One step on a time axis of its own, from zero: planned above, the runs between, proposed below; in per cent.

    `planned_x` and `proposed_x` are the likely durations, `median_x` the runs' median, `dots` each run.
    """

    planned: Box
    planned_x: float
    between: Box | None
    median_x: float | None
    dots: tuple[float, ...]
    proposed: Box | None
    proposed_x: float | None
    words: str


@dataclass(frozen=True, slots=True)
class DurationRow:
    """A step; every figure is in words. `ratio` is to the plan's likely duration, `to_median` to its median.

    `left_out`: which runs tell nothing, and why.
    """

    id: str
    text: str
    who: str
    planned: str
    n: int
    median: str
    between: str
    ratio: str
    to_median: str
    picture: Picture | None
    proposed: str
    changed: bool
    reason: str
    left_out: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DurationsPage:
    """`hidden`: the choices, as fields that the form of the proposals carries on. `asked`: the choices in words.

    `count_simulated`: the query of the same choices with what simulated people did.
    """

    revision: str
    title: str
    kinds: tuple[Option, ...]
    runs: tuple[RunOption, ...]
    simulated: bool
    simulated_left_out: str
    count_simulated: str
    asked: str
    tasks: tuple[tuple[str, str, tuple[DurationRow, ...]], ...]
    changed: int
    hidden: tuple[tuple[str, str], ...]
    notice: str


@dataclass(frozen=True, slots=True)
class DiffLine:
    """`look` is ``added``, ``taken``, ``place`` or empty; the text begins with the sign that says the same."""

    look: str
    text: str


@dataclass(frozen=True, slots=True)
class ReviewPage:
    """What would be stored. `expect`: the hash of the text that is shown, so that no other is stored."""

    revision: str
    title: str
    steps: tuple[str, ...]
    finish: tuple[str, str]
    room: tuple[str, str] | None
    short: bool
    lines: tuple[DiffLine, ...]
    expect: str
    hidden: tuple[tuple[str, str], ...]
    left_out: tuple[str, ...]
    back: str
    notice: str


def durations_page(found: Found, notice: str = "") -> DurationsPage:
    rows = {
        each.step.id: _row(each, proposed, found.procedure.spread)
        for each, proposed in zip(found.steps, found.proposals, strict=True)
    }
    return DurationsPage(
        revision=found.stored.hash,
        title=found.stored.title,
        kinds=tuple(Option(kind, KIND_WORDS[kind], kind == found.asked.kind) for kind in (BOTH, *KINDS)),
        runs=tuple(_run(each, found.asked.runs) for each in found.runs),
        simulated=found.asked.simulated,
        simulated_left_out=runs_words(found.simulated_left_out),
        count_simulated=urlencode((*hidden(found), ("simulated", "1"))),
        asked=_asked(found),
        tasks=tuple((task.title, task.id, _of(task, rows)) for task in found.procedure.tasks),
        changed=len(found.changed),
        hidden=hidden(found),
        notice=notice,
    )


def _asked(found: Found) -> str:
    """Over which runs, also for paper, where the form that chooses them is left out."""
    if not found.runs:
        return ""
    asked = [each.stored.run for each in found.runs if each.asked]
    over = f"{KIND_WORDS[found.asked.kind].lower()}: {runs_words(asked)}" if asked else "none of this choice"
    counted = "is counted too" if found.asked.simulated else "is not counted"
    return f"{len(asked)} of {len(found.runs)} runs asked, {over}. What simulated people did {counted}."


def hidden(found: Found) -> tuple[tuple[str, str], ...]:
    """The choices as fields of a form, or of an address."""
    runs = tuple(("run", str(run)) for run in found.asked.runs)
    return (("kind", found.asked.kind), *runs, *((("simulated", "1"),) if found.asked.simulated else ()))


def _of(task: Task, rows: dict[str, DurationRow]) -> tuple[DurationRow, ...]:
    return tuple(rows[step.id] for step in task.steps)


def _run(choice: RunChoice, only: Sequence[int]) -> RunOption:
    stored = choice.stored
    words = [f"Run {stored.run}", stored.kind, f"{stored.zero_utc:%Y-%m-%d}"]
    if not choice.same_revision:
        words.append(f"revision {stored.revision[:12]}")
    if choice.ended is False:
        words.append("not ended")
    return RunOption(stored.run, " · ".join(words), stored.run in only, choice.why)


def _row(found: StepDurations, proposed: "Proposal", spread: tuple[float, float, float]) -> DurationRow:
    seen, step = found.sample, found.step
    return DurationRow(
        id=step.id,
        text=step.do,
        who=" and ".join(step.who) or "nobody",
        planned=points_words(step.takes),
        n=0 if seen is None else seen.n,
        median="–" if seen is None else duration(round(seen.median)),
        between="–" if seen is None else _between(seen.quantile(LOW), seen.quantile(HIGH)),
        ratio="–" if found.ratio is None else f"{found.ratio:.2f}",
        to_median="" if proposed.ratio is None else f"{proposed.ratio:.2f}",
        picture=None if seen is None else _picture(found, proposed, spread),
        proposed=points_words(proposed.takes) if proposed.changed else "as planned",
        changed=proposed.changed,
        reason=proposed.reason,
        left_out=left_out_words(found.left_out),
    )


def points_words(takes: Takes) -> str:
    """``4m, 5m, 8m``, or the likely duration alone where the file has no other."""
    if takes.optimistic_s is None or takes.pessimistic_s is None:
        return duration(takes.likely_s)
    return ", ".join(duration(each) for each in (takes.optimistic_s, takes.likely_s, takes.pessimistic_s))


def _between(low: float, high: float) -> str:
    words = duration(round(low)), duration(round(high))
    return words[0] if words[0] == words[1] else f"{words[0]} to {words[1]}"


def _picture(found: StepDurations, proposed: "Proposal", spread: tuple[float, float, float]) -> Picture:
    seen, takes = found.sample, found.step.takes
    assert seen is not None
    planned = _three(takes, spread)
    ends = [planned[2], seen.values[-1], proposed.takes.pessimistic_s or 0 if proposed.changed else 0]
    scale = Axis(max(1, round(max(ends) * 1.04)))
    low, high = seen.quantile(LOW), seen.quantile(HIGH)
    new = f", proposed {points_words(proposed.takes)}" if proposed.changed else ""
    several = f", ten to ninety {_between(low, high)}" if seen.n > 1 else ""
    return Picture(
        planned=scale.box(planned[0], planned[2], "", ""),
        planned_x=scale.x(takes.likely_s),
        between=scale.box(round(low), round(high), "", "between") if seen.n > 1 else None,
        median_x=scale.x(seen.median),
        dots=tuple(scale.x(value) for value in seen.values),
        proposed=scale.box(*_three(proposed.takes, spread)[::2], "", "") if proposed.changed else None,
        proposed_x=scale.x(proposed.takes.likely_s) if proposed.changed else None,
        words=f"{found.step.id}: planned {points_words(takes)}, median {duration(round(seen.median))}{several}{new}",
    )


def _three(takes: Takes, spread: tuple[float, float, float]) -> tuple[int, int, int]:
    """The three points that the forecast draws from; `spread` makes those that the file does not give."""
    if takes.optimistic_s is None or takes.pessimistic_s is None:
        low, likely, high = (round(share * takes.likely_s) for share in spread)
        return low, likely, high
    return takes.optimistic_s, takes.likely_s, takes.pessimistic_s


def review_page(found: Found, made: Draft, back: str, notice: str = "") -> ReviewPage:
    before, after = _room(found.prepared), _room(made.prepared)
    return ReviewPage(
        revision=found.stored.hash,
        title=found.stored.title,
        steps=made.steps,
        finish=(clock(found.prepared.plan.end_s), clock(made.prepared.plan.end_s)),
        room=None if before is None or after is None else (before, after),
        short=_is_short(made.prepared),
        lines=tuple(_line(line) for line in made.difference.removesuffix("\n").split("\n")),
        expect=made.hash,
        hidden=(*hidden(found), *(("step", step) for step in made.steps)),
        left_out=made.left_out,
        back=back,
        notice=notice,
    )


def _room(prepared: Prepared) -> str | None:
    """In words, as the Plan has it; None without a limit."""
    limit_s = prepared.procedure.limits.finish_s
    if limit_s is None:
        return None
    room_s = limit_s - prepared.plan.end_s
    return duration(room_s) if room_s >= 0 else f"{duration(room_s)} past the limit"


def _is_short(prepared: Prepared) -> bool:
    limit_s = prepared.procedure.limits.finish_s
    return limit_s is not None and prepared.plan.end_s > limit_s


_LOOKS = {"+": "added", "-": "taken", "@": "place"}


def _line(text: str) -> DiffLine:
    return DiffLine("place" if text.startswith(("+++ ", "--- ")) else _LOOKS.get(text[:1], ""), text)
