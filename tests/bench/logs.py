"""A log of 100,000 events: the state from it, and any moment of that run, over a real file.

The log is one run of 1,000 steps: steps are marked, one in five with a value read off; they are reopened and marked
again, round after round; starts are recorded, and one event in sixteen or so is a note of its own wording. The cycle
collector is set as the server sets it once it has started.
"""

import gc
import random
import statistics
import time
import uuid
from collections.abc import Iterator
from datetime import timedelta

from sqlalchemy import Connection, select

from app.core.events import Event, NoteAdded, RunStarted, StartRecorded, StepMarked, StepReopened
from app.core.fold import fold
from app.core.times import clock
from app.service.runs import Service
from app.service.values import Sender
from app.store import journal
from app.store.store import Store
from app.store.tables import EVENT
from tests.bench import boards
from tests.bench.marks import step_ids
from tests.bench.pages import table
from tests.bench.report import Figure, Measures, Row, spread
from tests.bench.serving import folder
from tests.bench.timing import median, side_by_side
from tests.web.site import Site

EVENTS = 100_000
STEPS = 1000
MOMENTS = 15
SOUGHT = 100
"""Whole pages of Replay that are asked for, each at another moment."""
LASTS_S = 400_000
GC_THRESHOLD = (50_000, 20, 20)
"""As in `app.serving`."""


def _all() -> Iterator[Row]:
    before = gc.get_threshold()
    gc.freeze()
    gc.set_threshold(*GC_THRESHOLD)
    try:
        with folder() as made, Site(made) as site:
            service = site.shell.service
            run = _fill(service)
            yield _state(service.store, run)
            yield _moments(service, run)
            yield from _replay(site, run)
    finally:
        gc.set_threshold(*before)
        gc.unfreeze()


def events() -> Iterator[Event]:
    """The events after the first one, without end."""
    number = 0
    steps = step_ids(STEPS)
    while True:
        for place, step in enumerate(steps):
            number += 1
            yield StartRecorded(step)
            yield StepMarked(step, (("torque", number / 7),) if place % 5 == 0 else ())
            if place % 7 == 0:
                yield NoteAdded(f"Note {number} of the bench", step)
        for step in steps:
            yield StepReopened(step, "done again")


def _fill(service: Service) -> int:
    """Store the log, each event under a key of its own, and return the run's number."""
    loaded = service.shelf.load(boards.text(STEPS).encode(), "bench.yaml")
    sender = Sender("Bench", "bench", str(uuid.uuid4()))
    run = service.start_run(loaded.hash, "rehearsal", sender, running_s=LASTS_S)
    begun = service.clock.utc() - timedelta(seconds=LASTS_S)
    told = events()

    def job(conn: Connection) -> None:
        for number in range(1, EVENTS):
            at_s = number * LASTS_S // EVENTS
            at = begun + timedelta(seconds=at_s)
            entry = journal.Entry(next(told), at_s, at_s, at, "Ground support", "station 1a2b3c")
            journal.append(conn, run, [entry], str(uuid.uuid4()), "0" * 64, None)

    service.store.write(job).result()
    return run


def _reference(conn: Connection, run: int) -> tuple[int, int]:
    """Measures by SQLAlchemy Core and a fold of tuples: the last body of each kind, nothing read or made."""
    last: dict[tuple[str, str], int] = {}
    count = 0
    wanted = select(EVENT.c.seq, EVENT.c.kind, EVENT.c.at_s, EVENT.c.body).where(EVENT.c.run == run)
    for seq, kind, _at_s, body in conn.execute(wanted.order_by(EVENT.c.seq)):
        last[kind, body] = seq
        count += 1
    return count, len(last)


def _state(store: Store, run: int) -> Row:
    """From the file to the state: read, and fold. A fresh run starts with `RunStarted`, so the count must be right."""
    seqs = []

    def ours() -> object:
        log = store.read(lambda conn: journal.read(conn, run))
        state = fold(log)
        seqs.append(state.seq)
        return log, state

    took, bare = side_by_side(ours, lambda: store.read(lambda conn: _reference(conn, run)), times=7)
    reference = statistics.median(bare) / 1000
    assert set(seqs) == {EVENTS}
    log = store.read(lambda conn: journal.read(conn, run))
    assert isinstance(log[0].event, RunStarted)
    return Row(
        "State from a log of 100,000 events",
        (
            *spread([each / 1000 for each in took], "s", p50=0.3, name="read and fold"),
            Figure("of which the rows as the driver gives them", _rows_alone(store, run) / 1000, "s"),
            Figure("of which the fold", median(lambda: fold(log), 3) / 1000, "s"),
            Figure("in references", statistics.median(took) / 1000 / reference, "x"),
        ),
        f"rows by SQLAlchemy Core and a tuple fold: {reference:.2f} s",
    )


def _rows_alone(store: Store, run: int) -> float:
    """Milliseconds of the driver's plain tuples with all columns of the log, of which nothing is made."""
    wanted = select(EVENT).where(EVENT.c.run == run).order_by(EVENT.c.seq)

    def rows(conn: Connection) -> int:
        cursor = conn.execute(wanted).cursor
        return 0 if cursor is None else len(cursor.fetchall())

    assert store.read(rows) == EVENTS
    return median(lambda: store.read(rows), 3)


def _moments(service: Service, run: int) -> Row:
    """The situation at moments drawn over the whole run, with the states of all its steps and everybody's lead."""
    draw = random.Random(7)
    service.situation(run)
    whole = median(lambda: fold(service.run(run).log), 3)
    times = []
    for _ in range(MOMENTS):
        at_s = draw.randrange(LASTS_S)
        began = time.thread_time()
        found = service.situation(run, at_s)
        _ = found.states, found.crew
        times.append((time.thread_time() - began) * 1000)
    return Row(
        "Any moment of that run",
        spread(times, p99=50),
        f"to fold the whole log: {whole:.0f} ms; {MOMENTS} moments drawn over the whole run, the log in memory",
    )


def _replay(site: Site, run: int) -> list[Row]:
    """Whole pages at moments drawn over the whole run: the processor time of the process for each, the client's too."""
    return [
        _sought(site, f"/runs/{run}/desk", "Any moment of that run in Replay, the Desk", 50),
        _sought(site, f"/runs/{run}/list/P1", "Any moment of that run in Replay, My list", 50),
        _sought(site, f"/runs/{run}/lead", "Any moment of that run in Replay, the Lead board", None),
    ]


def _sought(site: Site, page: str, what: str, budget: float | None) -> Row:
    draw = random.Random(11)
    site.page(f"{page}?at=0:00")
    times = []
    for _ in range(SOUGHT if budget else MOMENTS):
        address = f"{page}?at={clock(draw.randrange(LASTS_S))}"
        began = time.process_time()
        site.page(address)
        times.append((time.process_time() - began) * 1000)
    return Row(
        what,
        spread(times, p50=budget, p99=budget),
        f"a Jinja2 table of {STEPS:,} rows: {table(STEPS):.1f} ms; {len(times)} whole pages, the log in memory",
    )


ROWS: Measures = {"": _all}
