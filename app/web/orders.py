"""Orders as they are sent, by form or JSON, to commands of the core. It carries nothing out."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from app.core.commands import (
    AddNote,
    Command,
    EndRun,
    GiveBackWork,
    GiveGo,
    GiveNoGo,
    PutBack,
    PutOff,
    RecordStart,
    Refusal,
    ReopenStep,
    SetNotNeeded,
    TakeWork,
    UndoMark,
)


def read_number(name: str, text: str) -> float:
    """A number typed by a person, a decimal comma allowed.

    Raises:
        Refusal: it is not a plain decimal number.
    """
    said = text.strip().replace("−", "-").replace(",", ".")
    if not re.fullmatch(r"[+-]?[0-9]{1,12}(\.[0-9]{1,9})?", said):
        raise Refusal("not-a-number", f"“{name}” needs a number, not “{text.strip()[:40]}”.")
    return float(said)


@dataclass(frozen=True, slots=True)
class Said:
    """What was sent with an order; what was left out is empty."""

    step: str = ""
    task: str = ""
    person: str = ""
    reason: str = ""


_ORDERS: Mapping[str, tuple[tuple[str, ...], Callable[[Said], Command]]] = {
    "undo": (("step",), lambda said: UndoMark(said.step)),
    "reopen": (("step",), lambda said: ReopenStep(said.step, said.reason)),
    "start": (("step",), lambda said: RecordStart(said.step)),
    "not-needed": (("step",), lambda said: SetNotNeeded(said.step, said.reason)),
    "go": (("step", "person"), lambda said: GiveGo(said.step, said.person)),
    "no-go": (("step", "person"), lambda said: GiveNoGo(said.step, said.person, said.reason)),
    "put-off": (("task",), lambda said: PutOff(said.task, said.reason)),
    "put-back": (("task",), lambda said: PutBack(said.task, said.reason)),
    "take": (("task",), lambda said: TakeWork(said.task)),
    "give-back": (("task",), lambda said: GiveBackWork(said.task)),
    "note": ((), lambda said: AddNote(said.reason, said.step or None, said.person or None)),
    "end": ((), lambda said: EndRun(said.reason)),
}


def command_of(do: str, said: Said) -> Command:
    """The command that `do` names.

    Raises:
        Refusal: there is no such order, or what it is about was not said.
    """
    if do not in _ORDERS:
        raise Refusal("unknown", f"There is no order “{do[:40]}”.")
    needs, make = _ORDERS[do]
    for name in needs:
        if not getattr(said, name):
            raise Refusal("incomplete", f"“{do}” needs a {name}.")
    return make(said)
