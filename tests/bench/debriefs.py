"""The debrief of a run of 200 steps and 5,000 events, and that of a run of the sample's size."""

import random
import time
from collections.abc import Iterator

from app.core.debrief import debrief
from app.core.events import Event, Logged, NoteAdded, RunStarted, StepMarked, TakesRevised
from app.core.events_watch import FlagRaised
from app.core.fold import fold
from app.core.situation import Prepared
from tests.bench import boards
from tests.bench.report import Figure, Measures, Row, spread
from tests.bench.timing import median, timed
from tests.core.running import logged

EVENTS = 5_000
LATE = (0, 0, 0, 0, 30, 90)
"""Seconds after which an entry is heard."""


def told(steps: int, events: int) -> tuple[Prepared, tuple[Logged, ...], int]:
    """A whole run: each step marked somewhat off its plan, some durations revised, the rest notes and flags."""
    prepared, rng = Prepared(boards.procedure(steps, extra=6)), random.Random(1)
    network, plan = prepared.network, prepared.plan
    found: list[tuple[int, Event]] = [
        (int(plan.times(step)[1] * 1.08) + step % 7 * 20, StepMarked(network.steps[step].id)) for step in network.order
    ]
    last_s = max(at_s for at_s, _ in found)
    while len(found) < events - 1:
        at_s, step = rng.randrange(last_s), network.steps[rng.randrange(steps)].id
        event: Event = NoteAdded(f"Note {len(found)}", step)
        if (dice := rng.random()) < 0.05:
            event = TakesRevised(step, rng.randrange(60, 400), "so") if dice < 0.005 else FlagRaised("Look", step)
        found.append((at_s, event))
    entered = sorted((at_s + rng.choice(LATE), at_s, place) for place, (at_s, _) in enumerate(found))
    log = [logged(1, 0, RunStarted("r", "rehearsal", "2031-05-04T07:00:00.000Z"))]
    log += [
        logged(seq, at_s, found[place][1], logged_s) for seq, (logged_s, at_s, place) in enumerate(entered, start=2)
    ]
    return prepared, tuple(log), last_s + max(LATE)


def _both() -> Iterator[Row]:
    yield _row(200, EVENTS, 2_000)
    yield _row(35, 150, 500)


def _row(steps: int, events: int, budget_ms: float) -> Row:
    prepared, log, end_s = told(steps, events)
    began = time.perf_counter()
    debrief(prepared, log, end_s)
    clocked = (time.perf_counter() - began) * 1000
    return Row(
        f"Debrief of {steps} steps and {events:,} events",
        (
            *spread(timed(lambda: debrief(prepared, log, end_s), 5), p50=budget_ms, name="processor time"),
            Figure("by the clock, once", clocked, "ms"),
        ),
        f"to fold the same log once: {median(lambda: fold(log), 5):.1f} ms",
    )


ROWS: Measures = {"": _both}
