"""What was sent with an order, by form or JSON, before anybody asks what it means."""

from dataclasses import dataclass

from app.core.commands import Refusal
from app.core.times import TimeFault, read_duration

Values = tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Said:
    """What was sent with an order; what was left out is empty.

    Attributes:
        takes: a duration as typed, or whole seconds. before: a task. after: tasks or steps.
        number: of an action that is counted; flag, entry: seqs of events. 0 where none was sent.
        value: a gauge's reading. values, readings: by the name of the value, of the supply.
        how, where: of a tool. to: who takes over. anew: the supply was exchanged or filled.
        rate, set_to: of a rehearsal's clock; set_to also when trouble begins. seed: of simulated people.
        what, name: of trouble: its kind, and which value is wrong; inject: its id.
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
    rate: float | None = None
    set_to: str | int = ""
    seed: int = 0
    what: str = ""
    name: str = ""
    inject: str = ""


def takes_s(said: str | int) -> int:
    """Seconds of a duration as it was typed; a number is whole seconds already.

    Raises:
        Refusal: it is no duration.
    """
    if isinstance(said, int):
        return said
    try:
        return read_duration(said)
    except TimeFault as fault:
        raise Refusal("bad-time", f"{fault}: {fault.remedy}.") from fault
