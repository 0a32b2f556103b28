"""Orders as they are sent, by form or JSON, to commands of the core. It carries nothing out."""

import re
from collections.abc import Callable, Mapping

from app.core.commands import (
    AddNote,
    AddStep,
    Command,
    EndRun,
    GiveBackWork,
    GiveGo,
    GiveNoGo,
    MakeChanges,
    PutBack,
    PutBackSet,
    PutOff,
    PutOffSet,
    RecordStart,
    Refusal,
    ReopenStep,
    ReorderTasks,
    ReviseTakes,
    SetNotNeeded,
    SwapTasks,
    TakeSet,
    TakeWork,
    UndoMark,
)
from app.core.procedure import TaskId
from app.web.orders_live import LIVE_ORDERS
from app.web.orders_rehearsal import REHEARSAL_ORDERS
from app.web.said import Said, takes_s

_TARGET = re.compile(r"(.+?)(?:/([1-9][0-9]{0,5}))?")


def read_number(name: str, text: str) -> float:
    """A number typed by a person, a decimal comma allowed.

    Raises:
        Refusal: it is not a plain decimal number.
    """
    said = text.strip().replace("−", "-").replace(",", ".")
    if not re.fullmatch(r"[+-]?[0-9]{1,12}(\.[0-9]{1,9})?", said):
        raise Refusal("not-a-number", f"“{name}” needs a number, not “{text.strip()[:40]}”.")
    return float(said)


def _target(text: str) -> tuple[TaskId, int | None]:
    """``task`` or ``task/number``. What it names is looked for by the core."""
    found = _TARGET.fullmatch(text.strip())
    if not found:
        raise Refusal("unknown", f"“{text[:40]}” is no task or step.")
    return found[1], int(found[2]) if found[2] else None


def in_order(numbered: Mapping[TaskId, str]) -> tuple[TaskId, ...]:
    """The tasks in the order of the numbers typed beside them.

    Raises:
        Refusal: one has no number, or two have the same.
    """
    numbers = {task: read_number(task, text) for task, text in numbered.items()}
    for task, number in numbers.items():
        same = [other for other, its in numbers.items() if its == number and other != task]
        if same:
            sentence = f"{task} and {same[0]} both have the number {number:g}; give each its own (0 or 1.5 will do)."
            raise Refusal("twice", sentence)
    return tuple(sorted(numbers, key=numbers.__getitem__))


def _added(said: Said) -> AddStep:
    after = tuple(_target(text) for text in said.after if text)
    return AddStep(said.text, said.who, takes_s(said.takes), said.before or None, after, said.reason)


_NEEDS = {
    "takes": "time that it takes",
    "tasks": "row of tasks",
    "changes": "change to make",
    "other": "second task",
    "who": "person",
    "number": "number of the action",
    "value": "number that the gauge shows",
    "text": "line that says what to do",
    "how": "word for what became of it",
    "to": "name of who takes over",
    "what": "kind of trouble",
    "inject": "trouble that is meant",
    "poll text": "question",
    "draw-trouble number": "number of troubles",
}
"""What is missing, where its name alone would not say it; with the order before it, where it is another thing there."""


_ORDERS: Mapping[str, tuple[tuple[str, ...], Callable[[Said], Command]]] = {
    "undo": (("step",), lambda said: UndoMark(said.step)),
    "reopen": (("step",), lambda said: ReopenStep(said.step, said.reason)),
    "start": (("step",), lambda said: RecordStart(said.step)),
    "not-needed": (("step",), lambda said: SetNotNeeded(said.step, said.reason)),
    "go": (("step", "person"), lambda said: GiveGo(said.step, said.person, said.reason, said.heard)),
    "no-go": (("step", "person"), lambda said: GiveNoGo(said.step, said.person, said.reason, said.heard)),
    "put-off": (("task",), lambda said: PutOff(said.task, said.reason)),
    "put-back": (("task",), lambda said: PutBack(said.task, said.reason)),
    "take": (("task",), lambda said: TakeWork(said.task)),
    "put-off-set": (("tasks",), lambda said: PutOffSet(said.tasks, said.reason)),
    "put-back-set": (("tasks",), lambda said: PutBackSet(said.tasks, said.reason)),
    "take-set": (("tasks",), lambda said: TakeSet(said.tasks)),
    "what-if": (("changes",), lambda said: MakeChanges(said.changes, said.reason)),
    "give-back": (("task",), lambda said: GiveBackWork(said.task)),
    "revise": (("step", "takes"), lambda said: ReviseTakes(said.step, takes_s(said.takes), said.reason)),
    "reorder": (("person", "tasks"), lambda said: ReorderTasks(said.person, said.tasks, said.reason)),
    "swap": (("person", "task", "other"), lambda said: SwapTasks(said.person, said.task, said.other, said.reason)),
    "add-step": (("text", "who", "takes"), _added),
    "note": ((), lambda said: AddNote(said.reason, said.step or None, said.person or None)),
    "end": ((), lambda said: EndRun(said.reason)),
    **LIVE_ORDERS,
    **REHEARSAL_ORDERS,
}


KEPT = (
    *("mark", "start", "note", "go", "no-go", "not-needed", "acknowledge", "count", "accept", "confirm"),
    *("poll-go", "poll-no-go", "round-good", "round-bad", "reading", "tool", "flag"),
)
"""What a station keeps while the server is away: all that may be entered late, but corrections, which are made to what
the log has."""


def command_of(do: str, said: Said) -> Command:
    """The command that `do` names.

    Raises:
        Refusal: there is no such order, or what it is about was not said.
    """
    if do not in _ORDERS:
        raise Refusal("unknown", f"There is no order “{do[:40]}”.")
    needs, make = _ORDERS[do]
    for name in needs:
        if getattr(said, name) in ("", (), None) or (name in ("number", "flag", "entry") and not getattr(said, name)):
            raise Refusal("incomplete", f"“{do}” needs a {_NEEDS.get(f'{do} {name}', _NEEDS.get(name, name))}.")
    return make(said)
