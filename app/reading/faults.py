"""What is wrong with a file, at which place, and how to mend it. It reads nothing itself."""

from dataclasses import dataclass, field

MOST_FAULTS = 100
"""A file with more faults than this is shown the first ones and the count of the rest. Our own bound, no source."""


@dataclass(frozen=True, slots=True)
class ShownLine:
    """A line of the file, or a part of it: what is before the place of a fault, the sign there, what follows."""

    before: str
    at: str
    after: str


@dataclass(frozen=True, slots=True)
class PlacedFault:
    """One fault of a file.

    Attributes:
        line, column: 1-based; the column counts characters from the start of the line.
        what: what is wrong. remedy: how to write it instead.
        remark: worth knowing, but the file loads all the same.
        cell: where a table has it, ``C5`` in a CSV file and ``Procedure!C5`` in a workbook; empty in other files.
        shown: the line as it is shown beside the fault (`shown_lines`); a workbook has none.
    """

    line: int
    column: int
    what: str
    remedy: str
    remark: bool = False
    cell: str = ""
    shown: ShownLine | None = field(default=None, compare=False, repr=False)

    @property
    def where(self) -> str:
        """The place in words: a workbook has cells only, a text has lines."""
        if "!" in self.cell:
            return self.cell
        return f"line {self.line}, column {self.column}" + (f", cell {self.cell}" if self.cell else "")

    def __str__(self) -> str:
        kind = "remark: " if self.remark else ""
        return f"{self.where}: {kind}{self.what}; {self.remedy}"


def in_order(faults: list[PlacedFault]) -> tuple[PlacedFault, ...]:
    """The faults by place, the first `MOST_FAULTS` of them, then one that counts the rest."""
    ordered = sorted(faults, key=lambda fault: (fault.line, fault.column, fault.remark, fault.what))
    if len(ordered) <= MOST_FAULTS:
        return tuple(ordered)
    shown, rest = ordered[:MOST_FAULTS], ordered[MOST_FAULTS:]
    only_remarks = all(fault.remark for fault in rest)
    more = PlacedFault(
        rest[0].line,
        rest[0].column,
        f"{len(rest)} more faults follow",
        "mend those above first",
        only_remarks,
        rest[0].cell,
    )
    return (*shown, more)
