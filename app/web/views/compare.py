"""The comparison of runs as tables and charts, in words. It computes nothing but places on an axis."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.core.compare import Comparing, PersonAcross, Spread, StepAcross, StepCell
from app.core.debrief_times import PersonTimes
from app.core.times import clock, duration, lead_words
from app.web.views.debrief_tables import NONE, Shift, clock_or_none, duration_or_none, shift, span
from app.web.views.figures import Lead, lead
from app.web.views.overlay import Overlay

LEVEL_PX = 20
DOT_PART = 9.0
"""A dot's width in per cent of the narrowest chart of shifts that the pages have."""


@dataclass(frozen=True, slots=True)
class Choice:
    """A run that may be chosen."""

    run: int
    words: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class Dot:
    """`x` in per cent of the chart of shifts, `y` in pixels; `number`: which of the runs, from 1."""

    x: float
    y: int
    number: int
    label: str


@dataclass(frozen=True, slots=True)
class Strip:
    """Shifts of one step on the common axis: 0, "as planned", is in the middle. Dots never lie on one another."""

    dots: tuple[Dot, ...]
    height: int
    from_x: float
    width: float
    words: str


@dataclass(frozen=True, slots=True)
class CellRow:
    """One step in one run. `first`: against the first run; empty for that itself."""

    finish: str
    took: str
    shift: Shift | None
    first: Shift | None
    state: str


@dataclass(frozen=True, slots=True)
class StepRow:
    id: str
    do: str
    who: str
    cells: tuple[CellRow | None, ...]
    took: str
    spread: str
    strip: Strip | None


@dataclass(frozen=True, slots=True)
class TaskRows:
    title: str
    steps: tuple[StepRow, ...]


@dataclass(frozen=True, slots=True)
class PersonCell:
    actual: str
    worked: str
    waited: str
    lead: Lead


@dataclass(frozen=True, slots=True)
class PersonRow:
    designator: str
    cells: tuple[PersonCell | None, ...]
    worked: str
    waited: str
    lead: str


@dataclass(frozen=True, slots=True)
class Found:
    """`most`: how far the axis of shifts goes either way, in words."""

    names: tuple[str, ...]
    runs: tuple[int, ...]
    overlay: Overlay
    tasks: tuple[TaskRows, ...]
    people: tuple[PersonRow, ...]
    unmatched: tuple[str, ...]
    most: str


@dataclass(frozen=True, slots=True)
class ComparePage:
    """`found` is None until two runs are chosen; `refusal` says why they can't be compared."""

    title: str
    procedure: str
    choices: tuple[Choice, ...]
    procedures: tuple[tuple[str, str, int], ...]
    found: Found | None
    refusal: str


def comparison_rows(comparing: Comparing, drawn: Overlay, within_s: int) -> Found:
    """`within_s`: a lead of at most so many seconds reads "on plan"."""
    names = tuple(f"Run {each.run}" for each in comparing.runs)
    shifts = [cell.shift_s for row in comparing.steps for cell in row.cells if cell is not None]
    most_s = max([60, *(abs(each) for each in shifts if each is not None)])
    by_task: dict[str, list[StepRow]] = {}
    titles = {row.task: row.task_title for row in reversed(comparing.steps)}
    for row in comparing.steps:
        by_task.setdefault(row.task, []).append(_step(row, names, most_s))
    return Found(
        names=names,
        runs=tuple(each.run for each in comparing.runs),
        overlay=drawn,
        tasks=tuple(TaskRows(titles[task], tuple(rows)) for task, rows in by_task.items()),
        people=tuple(_person(row, within_s) for row in comparing.people),
        unmatched=tuple(f"Run {each.run}: “{each.do}” ({each.id}); {each.why}." for each in comparing.unmatched),
        most=duration(most_s),
    )


def _step(row: StepAcross, names: Sequence[str], most_s: int) -> StepRow:
    return StepRow(
        id=row.id,
        do=row.do,
        who=" and ".join(row.who) or "nobody",
        cells=tuple(None if cell is None else _cell(cell, place) for place, cell in enumerate(row.cells)),
        took=_durations(row.took),
        spread=_shifts(row.shift),
        strip=_strip(row, names, most_s),
    )


def _cell(cell: StepCell, place: int) -> CellRow:
    return CellRow(
        finish=clock_or_none(cell.finish_s),
        took=duration_or_none(cell.took_s),
        shift=shift(cell.shift_s),
        first=shift(cell.since_first_s) if place else None,
        state="" if cell.finish_s is not None else cell.state,
    )


def _strip(row: StepAcross, names: Sequence[str], most_s: int) -> Strip | None:
    """None where no run has a shift."""
    places = [
        (_x(cell.shift_s, most_s), place, _shift_words(cell.shift_s))
        for place, cell in enumerate(row.cells)
        if cell is not None and cell.shift_s is not None
    ]
    if not places:
        return None
    levels = _levels([x for x, _, _ in places])
    dots = tuple(
        Dot(x, LEVEL_PX // 2 + LEVEL_PX * level, place + 1, f"{names[place]}: {words}")
        for (x, place, words), level in zip(places, levels, strict=True)
    )
    left, right = min(dot.x for dot in dots), max(dot.x for dot in dots)
    height, words = LEVEL_PX * (max(levels) + 1), "; ".join(dot.label for dot in dots)
    return Strip(dots, height, left, round(right - left, 2), words)


def _levels(places: Sequence[float]) -> list[int]:
    """A level for each, the lowest on which none that came before is nearer than a dot is wide."""
    found: list[int] = []
    for x in places:
        taken = {level for other, level in zip(places, found, strict=False) if abs(other - x) < DOT_PART}
        found.append(next(level for level in range(len(places)) if level not in taken))
    return found


def _x(shift_s: int, most_s: int) -> float:
    return round(50 + shift_s * 46 / most_s, 2)


def _shift_words(shift_s: int) -> str:
    found = shift(shift_s)
    return "" if found is None else found.words


def _durations(found: Spread | None) -> str:
    if found is None:
        return NONE
    if found.least_s == found.most_s:
        return duration(found.least_s)
    return f"{duration(found.least_s)}, {duration(round(found.median_s))}, {duration(found.most_s)}"


def _shifts(found: Spread | None) -> str:
    if found is None:
        return NONE
    if found.least_s == found.most_s:
        return _shift_words(found.least_s)
    return ", ".join(_shift_words(each) for each in (found.least_s, round(found.median_s), found.most_s))


def _person(row: PersonAcross, within_s: int) -> PersonRow:
    leads = row.lead
    spread = NONE
    if leads is not None:
        spread = ", ".join(dict.fromkeys(lead_words(v) for v in (leads.least_s, round(leads.median_s), leads.most_s)))
    return PersonRow(
        designator=row.designator,
        cells=tuple(None if cell is None else _person_cell(cell, within_s) for cell in row.cells),
        worked=_durations(row.worked),
        waited=_durations(row.waited),
        lead=spread,
    )


def _person_cell(cell: PersonTimes, within_s: int) -> PersonCell:
    nothing = cell.start_s is None
    return PersonCell(
        actual=span(cell.start_s, cell.finish_s),
        worked=NONE if nothing else duration(cell.worked_s),
        waited=NONE if nothing else duration(cell.waited_s),
        lead=lead(cell.lead_s, within_s),
    )


def run_words(run: int, kind: str, simulated: str, revision: str, begun: str, ended_s: int | None) -> str:
    """``Run 3, rehearsal, 2031-05-04 07:00 UTC, revision 1a2b3c4, ended 04:10:00``; `simulated`: who was, if any."""
    kind = f"{kind}, {simulated}" if simulated else kind
    state = "goes on" if ended_s is None else f"ended {clock(ended_s)}"
    return f"Run {run}, {kind}, {begun} UTC, revision {revision[:7]}, {state}"
