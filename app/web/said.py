"""What was sent with an order, by form or JSON, before anybody asks what it means."""

from dataclasses import dataclass

Values = tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Said:
    """What was sent with an order; what was left out is empty.

    Attributes:
        takes: a duration as typed, or whole seconds. before: a task. after: tasks or steps.
        number: of an action that is counted; flag, entry: seqs of events. 0 where none was sent.
        value: a gauge's reading. values, readings: by the name of the value, of the supply.
        how, where: of a tool. to: who takes over. anew: the supply was exchanged or filled.
        heard: said on the voice loop, and entered by somebody else. keep_time: the mark's time is right.
    """

    step: str = ""
    task: str = ""
    person: str = ""
    reason: str = ""
    takes: str | int = ""
    tasks: tuple[str, ...] = ()
    other: str = ""
    text: str = ""
    who: tuple[str, ...] = ()
    before: str = ""
    after: tuple[str, ...] = ()
    changes: tuple[str, ...] = ()
    number: int = 0
    poll: str = ""
    round: str = ""
    supply: str = ""
    value: float | None = None
    values: Values = ()
    readings: Values = ()
    tool: str = ""
    how: str = ""
    where: str = ""
    flag: int = 0
    entry: int = 0
    to: str = ""
    anew: bool = False
    heard: bool = False
    keep_time: bool = False
