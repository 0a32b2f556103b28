"""A small run with something of everything in its log, for what writes and reads runs. It asserts nothing."""

from app.core.commands import AddNote, EndRun, GiveGo, MarkStep, RecordStart, UndoMark
from app.service.runs import Service
from app.service.values import Sender
from app.web.keys import new_key
from tests.service.making import ANGLE, SetClock, small_run

HOSTILE = '=1+1\r\n<b>&amp;</b> “q”, "q"; \u202eback\u202c \x07 😀 e\u0301 \\n ]]> {{7*7}}'
"""A formula, markup, marks of direction, a control sign, quotation marks, an end of a line."""

MARKS = {"rig/1": 310, "rig/2": 900, "wire/1": 1500, "wire/2": 1650, "paint/1": 1700}
"""When each step of the run was done, elapsed seconds."""
SIGNED = "Ana Lead"


def recorded(service: Service, clock: SetClock, ends: bool = True) -> int:
    """A run of SMALL: a start recorded, a mark undone and made again, a mark heard late, a hold, a note, the end."""
    run, zero = small_run(service, "live"), clock.at_s

    def give(at_s: int, *commands: object, happened_s: int | None = None) -> None:
        clock.at_s = zero + at_s
        for command in commands:
            service.order(run, command, Sender(SIGNED, "desk 1", new_key()), happened_s).result()  # type: ignore[arg-type] # any of the commands

    give(20, RecordStart("rig/1"))
    give(300, MarkStep("rig/1"), UndoMark("rig/1"))
    give(310, MarkStep("rig/1"), AddNote(HOSTILE, "rig/1"))
    give(960, MarkStep("rig/2", ANGLE), happened_s=900)
    give(1500, MarkStep("wire/1"))
    give(1650, GiveGo("wire/2", "EV1"), GiveGo("wire/2", "EV2"), MarkStep("wire/2"))
    give(1700, MarkStep("paint/1"))
    if ends:
        give(1800, EndRun("All back"))
    return run
