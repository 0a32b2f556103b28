"""The rehearsal that `leadline demo` shows: the sample 1 h 45 min in. Invented history; it serves nothing.

It is told through the same service as any run, with a clock that is set forward from order to order. So the log is
what a real one would be, and nothing on the screens is made up for the demo.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from app.core.commands import (
    AddNote,
    Command,
    GiveGo,
    MarkStep,
    RecordStart,
    TakeWork,
    UndoMark,
)
from app.core.times import read_clock
from app.service.runs import Service
from app.service.values import Sender
from app.settings import Settings
from app.store.clock import ServerClock, wall_clock
from app.store.store import Store
from app.web.keys import new_key

SAMPLE = "pump-changeout"
SHOWN_S = read_clock("1:45:00")
"""How far the rehearsal is when the demo opens."""

Told = tuple[str, Command, str | None]


@dataclass
class _SetClock:
    """Two clocks that stand until they are set; both show the same progress."""

    begun: datetime
    at_s: float = 0

    def utc(self) -> datetime:
        return self.begun + timedelta(seconds=self.at_s)

    def monotonic(self) -> float:
        return self.at_s


def history() -> Iterator[Told]:
    """(elapsed when it is entered, order, elapsed when it happened if that is earlier)."""
    yield "0:10:20", MarkStep("go-out/1"), None
    yield "0:21:10", MarkStep("go-out/2"), None
    yield "0:28:00", MarkStep("unplug/1"), None
    yield "0:30:10", MarkStep("shut-valves/1"), None
    yield "0:33:30", MarkStep("unplug/2"), None
    yield "0:34:40", MarkStep("shut-valves/2", (("turns", 12.0),)), None
    yield "0:38:50", MarkStep("unplug/3"), None
    yield "0:39:30", MarkStep("shut-valves/3", (("turns", 13.5),)), None
    yield (
        "0:40:00",
        AddNote("V2 took 13.5 turns, half a turn over; it feels shut. Ground concurs.", "shut-valves/3"),
        None,
    )
    yield "0:46:00", MarkStep("isolate/1"), None
    yield "0:46:20", UndoMark("isolate/1"), None
    yield "0:48:30", MarkStep("isolate/1"), "0:47:40"
    yield "0:49:10", MarkStep("isolate/2"), None
    yield "0:57:30", MarkStep("unplug/4"), None
    yield "1:10:10", MarkStep("free-old/1"), None
    yield "1:14:30", MarkStep("free-old/2"), None
    yield "1:20:10", MarkStep("take-away/1"), None
    yield "1:22:00", TakeWork("wipe-window"), None
    yield "1:22:30", RecordStart("wipe-window/1"), None
    yield "1:31:00", MarkStep("take-away/2"), None
    yield "1:40:10", MarkStep("wipe-window/1"), None
    yield "1:40:30", MarkStep("bring-spare/1"), None
    yield "1:41:10", AddNote("Foot plate was stiff; wiping started late.", None, "EV1"), None
    yield "1:43:20", GiveGo("bring-spare/2", "EV2"), None


def build(settings: Settings) -> int:
    """Tell the history into a new run in the data folder. Returns the run's number.

    Raises:
        NoSuchRevision: the sample is not among the procedures. StoreFault: the folder can't be used.
    """
    now = wall_clock()
    clock = _SetClock(now - timedelta(seconds=SHOWN_S))
    with Store(settings.data, settings.migrations, "demo") as store:
        service = Service(store, ServerClock(clock.utc, clock.monotonic))
        service.shelf.load_folder(settings.procedures)
        run = service.start_run(SAMPLE, "rehearsal", _sender())
        for entered, command, happened in history():
            clock.at_s = read_clock(entered)
            at_s = None if happened is None else read_clock(happened)
            service.order(run, command, _sender(), at_s).result()
    return run


def _sender() -> Sender:
    return Sender("Demo script", "demo", new_key())
