"""What a row of the bench is, and how rows are printed and written. It measures nothing."""

import json
import math
import statistics
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

from tests.bench.timing import percentile

LATEST = Path(__file__).with_name("latest.json")


@dataclass(frozen=True, slots=True)
class Figure:
    """One measured number. Without `budget` it is there to be read beside the others.

    Attributes:
        budget: what `value` must not pass: at most it, or at least it when `at_least`.
    """

    name: str
    value: float
    unit: str
    budget: float | None = None
    at_least: bool = False

    @property
    def met(self) -> bool | None:
        if self.budget is None:
            return None
        return self.value >= self.budget if self.at_least else self.value <= self.budget

    def cells(self) -> tuple[str, str, str]:
        """Name and value, budget, verdict."""
        said = f"{self.name} {short(self.value)} {self.unit}".strip()
        if self.budget is None:
            return said, "", ""
        return said, f"{'≥' if self.at_least else '≤'} {short(self.budget)} {self.unit}".strip(), _WORDS[self.met]


_WORDS = {True: "met", False: "NOT MET", None: ""}


def spread(
    times: Sequence[float], unit: str = "ms", p50: float | None = None, p99: float | None = None, name: str = ""
) -> tuple[Figure, Figure]:
    """The median and the 99th percentile of what was measured, with their budgets. Of few, that is the largest."""
    said = f"{name}, " if name else ""
    middle, worst = statistics.median(times), percentile(times, 99)
    return Figure(f"{said}p50", middle, unit, p50), Figure(f"{said}p99", worst, unit, p99)


@dataclass(frozen=True, slots=True)
class Row:
    """One thing that a person waits for. `missing` says why it could not be measured; then there are no figures.

    `took_s`: how long the bench was busy with it, its reference included.
    """

    what: str
    figures: tuple[Figure, ...] = ()
    reference: str = ""
    missing: str = ""
    took_s: float = 0.0

    @property
    def met(self) -> bool | None:
        judged = [figure.met for figure in self.figures if figure.met is not None]
        return all(judged) if judged else None


Measure = Callable[[], Row | Iterable[Row]]
Measures = Mapping[str, Measure]
"""What a module of the bench measures, by the name that asks for it behind the module's own; "" for all of it."""


def short(value: float) -> str:
    """Three significant digits, without an exponent."""
    if value == 0:
        return "0"
    digits = max(0, 2 - math.floor(math.log10(abs(value))))
    return f"{value:,.{digits}f}"


def show(row: Row) -> str:
    """The row as lines of text: what, the reference, then a line per figure."""
    lines = [f"{row.what} ({row.took_s:.0f} s)"]
    if row.reference:
        lines.append(f"    beside: {row.reference}")
    if row.missing:
        lines.append(f"    {row.missing}")
    for figure in row.figures:
        said, budget, verdict = figure.cells()
        lines.append(f"    {said:<46} {budget:<16} {verdict}".rstrip())
    return "\n".join(lines)


def verdict(rows: Iterable[Row]) -> str:
    """One line that counts the rows."""
    found = [row.met for row in rows]
    return f"{found.count(True)} rows met, {found.count(False)} not met, {found.count(None)} without a verdict"


def write(rows: Sequence[Row], machine: dict[str, str], whole: bool) -> None:
    """Write LATEST. Unless it was the `whole` bench, the rows that were not measured now are kept as they are."""
    kept = json.loads(LATEST.read_text())["rows"] if LATEST.exists() and not whole else []
    fresh = [_plain(row, machine) for row in rows]
    names = {each["what"] for each in fresh}
    merged = [*fresh, *(each for each in kept if each["what"] not in names)]
    LATEST.write_text(json.dumps({"rows": merged}, indent=1, ensure_ascii=False) + "\n")


def _plain(row: Row, machine: dict[str, str]) -> dict[str, object]:
    figures = [{**asdict(figure), "value": float(f"{figure.value:.4g}"), "met": figure.met} for figure in row.figures]
    return {**asdict(row), "took_s": round(row.took_s, 1), "figures": figures, "met": row.met, "measured": machine}
