"""The rehearsals that `leadline demo` has: the sample 1 h 45 min in, and finished ones. Invented; it serves nothing.

It is told through the same service as any run, with a clock that is set forward from order to order. So the log is
what a real one would be, and nothing on the screens is made up for the demo.
"""

import logging
from collections.abc import Iterator
from datetime import timedelta
from threading import Thread

from app.core.commands import (
    AddNote,
    Command,
    GiveGo,
    MarkStep,
    RecordStart,
    TakeWork,
    UndoMark,
)
from app.core.commands_live import AcceptValues, AcknowledgeWarning, AnswerRound, CountAction, MoveTool, TakeReading
from app.core.times import read_clock
from app.service.rehearsing import SetClock, keep
from app.service.runs import Service
from app.service.values import Sender
from app.settings import Settings
from app.store.clock import wall_clock
from app.store.faults import StoreClosed, StoreFault
from app.store.sqlite_store import SqliteStore
from app.store.store import Store
from app.web.keys import new_key

logger = logging.getLogger(__name__)

SAMPLE = "pump-changeout"
SHOWN_S = read_clock("1:45:00")
"""How far the rehearsal is when the demo opens."""
SEEDS = (1, 2, 3, 4, 5)
TROUBLES = 4
"""The finished rehearsals are of these seeds; so many troubles befall each."""

Told = tuple[str, Command, str | None]


def history() -> Iterator[Told]:
    """(elapsed when it is entered, order, elapsed when it happened if that is earlier)."""
    yield from _tools_out()
    yield "0:01:10", AcknowledgeWarning("go-out/1", "EV1", heard=True), None
    yield "0:01:20", AcknowledgeWarning("go-out/1", "EV2", heard=True), None
    yield from _first_gauges()
    yield "0:10:20", MarkStep("go-out/1"), None
    yield "0:21:10", MarkStep("go-out/2"), None
    yield "0:28:00", MarkStep("unplug/1"), None
    yield "0:28:50", MoveTool("camera", "handed", "EV2"), None
    yield "0:30:10", MarkStep("shut-valves/1"), None
    yield "0:33:30", MarkStep("unplug/2"), None
    yield "0:34:40", MarkStep("shut-valves/2", (("turns", 12.0),)), None
    yield "0:38:50", MarkStep("unplug/3"), None
    yield "0:39:10", MarkStep("shut-valves/3", (("turns", 13.5),)), None
    yield "0:39:30", AcceptValues("shut-valves/3", "V2 has gone half a turn over before; it feels shut"), None
    yield (
        "0:40:00",
        AddNote("V2 took 13.5 turns, half a turn over; it feels shut. Ground concurs.", "shut-valves/3"),
        None,
    )
    yield "0:46:00", MarkStep("isolate/1"), None
    yield "0:46:20", UndoMark("isolate/1"), None
    yield "0:48:30", MarkStep("isolate/1"), "0:47:40"
    yield "0:49:10", MarkStep("isolate/2"), None
    yield from _first_rounds()
    yield "0:57:30", MarkStep("unplug/4"), None
    yield from _screws()
    yield from _second_rounds()
    yield "1:13:00", MoveTool("leak sniffer", "left", "EV2", "bay 4 right"), None
    yield "1:14:30", MarkStep("free-old/2"), None
    yield "1:20:10", MarkStep("take-away/1"), None
    yield "1:22:00", TakeWork("wipe-window"), None
    yield "1:22:30", RecordStart("wipe-window/1"), None
    yield "1:31:00", MarkStep("take-away/2"), None
    yield from _last_gauges()
    yield "1:40:10", MarkStep("wipe-window/1"), None
    yield "1:40:30", MarkStep("bring-spare/1"), None
    yield "1:41:10", AddNote("Foot plate was stiff; wiping started late.", None, "EV1"), None
    yield "1:43:20", GiveGo("bring-spare/2", "EV2"), None


def _tools_out() -> Iterator[Told]:
    took = (("torque driver", "EV2"), ("line wrench", "EV1"), ("leak sniffer", "EV2"), ("camera", "EV1"))
    for number, (tool, person) in enumerate(took, start=1):
        yield f"0:00:{10 * number}", MoveTool(tool, "taken", person), None


def _first_gauges() -> Iterator[Told]:
    yield "0:05:10", TakeReading("battery", "EV1", 100.0, heard=True), None
    yield "0:05:20", TakeReading("battery", "EV2", 100.0, heard=True), None


def _first_rounds() -> Iterator[Told]:
    """A round for each of the two outside, with the battery read. EV1 made theirs early, so the next one is near."""
    yield "0:50:20", AnswerRound("gloves-and-suit", "EV1", True, "", (("battery", 86.0),), heard=True), "0:49:30"


def _second_rounds() -> Iterator[Told]:
    good = "left glove scuffed, no cut"
    yield "1:11:40", AnswerRound("gloves-and-suit", "EV2", True, good, (("battery", 85.5),), heard=True), "1:02:20"


def _last_gauges() -> Iterator[Told]:
    """EV1's will be the first to run out, a little before the limit of the file."""
    yield "1:33:00", TakeReading("battery", "EV1", 72.0, heard=True), None
    yield "1:33:30", TakeReading("battery", "EV2", 78.5, heard=True), None


def _screws() -> Iterator[Told]:
    """The eight frame screws, one press each."""
    when = ("0:59:40", "1:01:10", "1:02:30", "1:03:50", "1:05:30", "1:06:50", "1:08:40", "1:10:10")
    for number, entered in enumerate(when, start=1):
        yield entered, CountAction("free-old/1", number), None


def build(settings: Settings) -> int:
    """Tell the history into a new run in the data folder. Returns the run's number.

    Raises:
        NoSuchRevision: the sample is not among the procedures. StoreFault: the folder can't be used.
    """
    now = wall_clock()
    clock = SetClock(now - timedelta(seconds=SHOWN_S))
    with SqliteStore(settings.data, settings.migrations, "demo") as store:
        service = Service(store, clock.server())
        service.shelf.load_folder(settings.procedures)
        run = service.start_run(SAMPLE, "rehearsal", _sender())
        for entered, command, happened in history():
            clock.at_s = read_clock(entered)
            at_s = None if happened is None else read_clock(happened)
            service.order(run, command, _sender(), at_s).result()
    return run


def also_finished(store: Store) -> None:
    """Begin to put the finished rehearsals beside the shown one, in a thread: the server need not wait for them."""
    Thread(target=_finished, args=(store,), name="finished rehearsals").start()


def _finished(store: Store) -> None:
    try:
        keep_finished(store)
    except StoreFault as fault:
        if not isinstance(fault, StoreClosed):  # The server is stopping.
            logger.warning("the demo has no finished rehearsals: %s", fault)


def keep_finished(store: Store) -> tuple[int, ...]:
    """Have simulated people do the sample once for each of SEEDS, with trouble, on the days before. Their numbers.

    Raises:
        NoSuchRevision: the store does not have the sample. StoreFault: it could not be stored.
    """
    from app.core.simulated import simulate  # With numpy, which would delay the start.
    from app.core.trouble import draw_trouble

    now = wall_clock()
    shelf = Service(store, SetClock(now).server()).shelf
    revision = shelf.revision(SAMPLE)
    prepared, runs = shelf.prepared(revision), []
    for number, seed in enumerate(SEEDS):
        zero = now - timedelta(days=len(SEEDS) - number)
        simulated = simulate(prepared, revision.hash, zero, seed, draw_trouble(prepared, seed, TROUBLES))
        runs.append(keep(store, shelf, simulated, zero, new_key))
    return tuple(runs)


def _sender() -> Sender:
    return Sender("Demo script", "demo", new_key())
