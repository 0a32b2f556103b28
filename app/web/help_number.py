"""What the help says of one number of a screen: its formula, and an example worked out. It computes nothing."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Number:
    """A number as the help tells it.

    Attributes:
        slug: its name in an address, ``number-lead``.
        name: as a screen has it.
        where: the screens that show it.
        formula: in words.
        given: what the example starts from, (name, value) as the screens write them.
        result: what comes out.
        why: one sentence on how to read it.
        source: of the formula.
    """

    slug: str
    name: str
    where: str
    formula: str
    given: tuple[tuple[str, str], ...]
    result: str
    why: str
    source: str


OUR = "Leadline's own rule."
CPM = "The critical path method: Kelley and Walker, “Critical-path planning and scheduling”, 1959 (from memory)."
