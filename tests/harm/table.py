"""What a row of the harness is, how it is judged and how it is printed. It breaks nothing."""

import textwrap
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

WIDTH = 110
Value = int | float | str


@dataclass(frozen=True, slots=True)
class Row:
    """One promise of the table, and what was found of it on this machine.

    Attributes:
        how: how it was tried, in words.
        figures: number or short text by its name in words.
        broken: a sentence for each way in which the promise was not kept.
        missing: why it could not be measured here; then there is no verdict.
    """

    promise: str
    how: str = ""
    figures: Mapping[str, Value] = field(default_factory=dict)
    broken: tuple[str, ...] = ()
    missing: str = ""

    @property
    def kept(self) -> bool | None:
        """Whether the promise held; None if it was not measured."""
        return None if self.missing else not self.broken


_WORDS = {True: "ok", False: "NOT", None: "not measured"}


def shown(value: Value) -> str:
    """A number with its thousands apart, a fraction with two digits."""
    if isinstance(value, float):
        return f"{value:,.2f}"
    return f"{value:,}" if isinstance(value, int) else value


def show(row: Row) -> str:
    """The row as lines of text: promise and verdict, how, the figures, what was broken."""
    lines = [f"{row.promise:<58} {_WORDS[row.kept]}"]
    if row.missing:
        lines.append(f"    {row.missing}")
    if row.how:
        lines += textwrap.wrap(row.how, WIDTH, initial_indent="    ", subsequent_indent="    ")
    if row.figures:
        lines += _wrapped([f"{name} {shown(value)}" for name, value in row.figures.items()])
    return "\n".join([*lines, *(f"    BROKEN: {each}" for each in row.broken)])


def _wrapped(parts: Iterable[str]) -> list[str]:
    lines: list[str] = []
    for part in parts:
        if lines and len(lines[-1]) + len(part) < WIDTH:
            lines[-1] += f"; {part}"
        else:
            lines.append(f"    {part}")
    return lines


def verdict(rows: Sequence[Row]) -> str:
    """One line that counts the rows."""
    found = [row.kept for row in rows]
    return f"{found.count(True)} promises kept, {found.count(False)} broken, {found.count(None)} not measured"


def of_trials(promise: str, how: str, *trials: Callable[[], Mapping[str, Any]]) -> Row:
    """A row of trials that return their figures by name, and under `broken` a list of sentences."""
    figures: dict[str, Any] = {}
    for trial in trials:
        found = dict(trial())
        figures |= found | {"broken": [*figures.get("broken", []), *found.get("broken", [])]}
    broken = figures.pop("broken", [])
    return Row(promise, how, figures, tuple(broken))


def unless(holds: bool, sentence: str) -> list[str]:
    """The sentence, if it does not hold: for gathering what was broken."""
    return [] if holds else [sentence]
