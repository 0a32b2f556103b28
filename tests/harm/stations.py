"""Two stations, one truth: threads that mark, take back and answer over the real service and store at once.

What they were answered is judged by `sequential`. The control plants a lost update, which must be found.
"""

import random
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from itertools import count
from typing import Any

from sqlalchemy import Connection

from app.core.commands import GiveGo, GiveNoGo, MarkStep, RecordStart, Refusal, ReopenStep, SetNotNeeded, UndoMark
from app.core.commands_live import AcceptValues, AcknowledgeWarning, ConfirmStep, CorrectMark, CountAction
from app.core.fold import fold
from app.core.procedure import Step
from app.core.state import State
from app.service.live_run import LiveRun
from app.service.runs import Service
from app.service.values import Sender
from app.store import journal
from app.web.keys import new_key
from tests.core.ledger import Ledger, StepOrder
from tests.harm.sequential import Answered, violations
from tests.harm.server import scratch
from tests.harm.table import Row, unless
from tests.service.making import SetClock, store

PROMISE = "two stations, one truth"
STATIONS = 2
TEXT = b"""\
procedure: pair
title: Work for two stations
crew: {EV1: {}, EV2: {}, ARM: {}}
tasks:
  - task: open
    title: Open it
    who: [EV1, EV2]
    steps:
      - {do: Read the plate, takes: 1 min, warning: Hot.}
      - {do: Turn the screws, takes: 1 min, count: 3}
  - task: fit
    title: Fit it
    who: EV1
    after: [open]
    steps:
      - {do: Measure the gap, takes: 1 min, record: {gap: {unit: mm, from: 2, to: 6}}}
      - {do: Is it free?, takes: 1 min, hold: {go: [EV2, ARM]}}
      - {do: Lock it, takes: 1 min, confirm_by: ARM}
  - task: side
    title: Beside it
    who: EV2
    steps:
      - {do: Sweep, takes: 1 min}
      - {do: Stow, takes: 1 min}
"""


def an_order(pick: random.Random, state: State, step: Step) -> StepOrder:
    """An order about a step, mostly one that fits how far it was when the station last looked."""
    who = pick.choice(step.who or ("ARM",))
    values = pick.choice([(("gap", 4.0),), (("gap", 4.0),), (("gap", 9.0),), ()]) if step.record else ()
    back: list[StepOrder] = [UndoMark(step.id), UndoMark(step.id), ReopenStep(step.id, "slip")]
    back += [CorrectMark(step.id, "misread", values, keep_time=True), RecordStart(step.id)]
    back += [GiveNoGo(step.id, "EV2", "wind"), SetNotNeeded(step.id, "cut")] if pick.random() < 0.2 else []
    if step.id in state.done or pick.random() < 0.15:
        return pick.choice(back)
    if step.id in state.progress.called and pick.random() < 0.7:
        answers: list[StepOrder] = [AcceptValues(step.id, "worn"), ConfirmStep(step.id, step.confirm_by or who)]
        return pick.choice(answers)
    counted = len(state.progress.counts.get(step.id, ()))
    forward: list[StepOrder] = [MarkStep(step.id, values, pick.choice([None, None, None, "the lead says so"]))]
    forward += [CountAction(step.id, counted + 1, values)] * (2 if step.count else 0)
    forward += [AcknowledgeWarning(step.id, who)] * (2 if step.warning else 0)
    forward += [GiveGo(step.id, pick.choice(step.go), pick.choice(["", "lifted"]))] * 2 if step.go else []
    return pick.choice(forward)


class _Station(threading.Thread):
    """Looks at the run, orders something about one of its steps, waits for the answer; and so on."""

    def __init__(
        self, service: Service, run: int, orders: int, seed: int, ticket: Iterator[int], clock: SetClock
    ) -> None:
        super().__init__(daemon=True)
        self._live, self._service, self._run_number = service.run(run), service, run
        self._orders, self._pick, self._ticket, self._clock = orders, random.Random(seed), ticket, clock
        self.history: list[Answered] = []

    def run(self) -> None:
        for _ in range(self._orders):
            steps = self._live.prepared.procedure.steps
            state = self._live.state
            left = [each for each in steps if each.id not in state.done]
            step = self._pick.choice(left[:3] if left and self._pick.random() < 0.7 else steps)
            self.history.append(self._order(an_order(self._pick, state, step)))

    def _order(self, command: StepOrder) -> Answered:
        back_s = 0 if isinstance(command, UndoMark | ReopenStep) else self._pick.choice([0, 0, 0, 5, 60])
        return ordered(self._service, self._run_number, command, int(self._clock.at_s) - back_s, self._ticket)


def begin(
    service: Service, run: int, command: StepOrder, at_s: int, ticket: Iterator[int], key: str = ""
) -> Callable[[], Answered]:
    """Give one order. What is returned waits for what becomes of it."""
    sent = next(ticket)
    future = service.order(run, command, Sender("A", "station", key or new_key()), at_s)

    def told() -> Answered:
        try:
            outcome = future.result(timeout=20)
        except Refusal as refusal:
            return Answered(command, at_s, sent, next(ticket), refused=f"{refusal.code}: {refusal}")
        first = outcome.seq - len(outcome.events) + 1
        return Answered(command, at_s, sent, next(ticket), outcome.seq, first)

    return told


def ordered(
    service: Service, run: int, command: StepOrder, at_s: int, ticket: Iterator[int], key: str = ""
) -> Answered:
    """Give one order and wait for what becomes of it."""
    return begin(service, run, command, at_s, ticket, key)()


def history(seed: int, stations: int = STATIONS, orders: int = 40) -> tuple[list[Answered], list[str]]:
    """Let so many stations order at once, each so many times. Returns what they were answered, and what is wrong."""
    clock, ticket = SetClock(), count()
    with scratch() as folder, store(folder) as opened:
        service = Service(opened, clock.server())
        run = service.start_run(service.shelf.load(TEXT, "pair.yaml").hash, "rehearsal", Sender("A", "s", new_key()))
        clock.at_s = 3600
        pressing = [_Station(service, run, orders, seed * 10 + one, ticket, clock) for one in range(stations)]
        with _crowded(service):
            for each in pressing:
                each.start()
            for each in pressing:
                each.join()
        found = [answered for each in pressing for answered in each.history]
        live = service.run(run)
        wrong = violations(Ledger(live.prepared.procedure), found, live.state)
        wrong += ["a station got no answer"] * (len(found) < stations * orders)
        if fold(opened.read(lambda conn: journal.read(conn, run))) != live.state:
            wrong.append("the state in memory is not that of the log")
    return found, wrong


@contextmanager
def _crowded(service: Service) -> Iterator[None]:
    """Keep the writer waiting a little again and again: what arrives meanwhile then shares one commit."""
    stopping = threading.Event()

    def hold(_: Connection) -> None:
        time.sleep(0.001)

    def crowd() -> None:
        while not stopping.is_set():
            service.store.write(hold).result()

    crowding = threading.Thread(target=crowd, daemon=True)
    crowding.start()
    try:
        yield
    finally:
        stopping.set()
        crowding.join()


@contextmanager
def lost_updates() -> Iterator[None]:
    """The planted fault: an order is decided on the state that was last committed, not on that of the log's head."""

    def stale(_service: Service, conn: Connection, live: LiveRun) -> State:
        seq, _chain = journal.head(conn, live.stored.run)
        return replace(live.state, seq=seq)

    planted: Any = Service
    right = planted._working
    planted._working = stale
    try:
        yield
    finally:
        planted._working = right


def row(histories: int, orders: int = 40) -> Row:
    """So many histories of two to four stations, and a few with the planted fault."""
    told, wrong = list[Answered](), list[str]()
    for seed in range(histories):
        found, faults = history(seed, STATIONS + seed % 3, orders)
        told += found
        wrong += faults
    with lost_updates():
        controls = [bool(history(seed, STATIONS + seed % 3, orders)[1]) for seed in range(max(5, histories // 10))]
    return Row(
        PROMISE,
        "threads over the real service and store; answers and log against a sequential model written from the words",
        {
            "histories": histories,
            "orders": len(told),
            "accepted": sum(each.seq is not None for each in told),
            "refused": sum(each.seq is None for each in told),
            "violations": len(wrong),
            "planted lost update caught": f"in {sum(controls)} of {len(controls)} histories",
        },
        tuple(wrong[:5] + unless(any(controls), "a planted lost update was not caught: this check finds nothing")),
    )
