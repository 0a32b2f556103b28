"""Replay is live: the fold of events 1 to N, read back, is the state that the service had at N, for generated runs.

SQLite only: a second store is to be held against the same runs when there is one.
"""

import random
from contextlib import suppress
from datetime import timedelta

from app.core.commands import EndRun, MarkStep, Refusal
from app.core.commands_live import AcknowledgeWarning
from app.core.events import KINDS, kind_of
from app.core.fold import fold
from app.core.report import situation_report
from app.core.state import State
from app.core.times import read_clock
from app.demo import history
from app.service.runs import Service
from app.store import journal
from tests.harm.any_order import any_orders
from tests.harm.server import scratch
from tests.harm.stations import TEXT
from tests.harm.table import Row, unless
from tests.service.making import SAMPLES, SMALL, SetClock, sender, store

PROMISE = "replay = live"
PROCEDURES = (TEXT, SMALL, (SAMPLES / "pump-changeout.yaml").read_bytes())


def _drive(service: Service, clock: SetClock, run: int, pick: random.Random, orders: int) -> dict[int, State]:
    """Order so many times, the wall clock stepping now and then. Returns the state after each commit, by its seq."""
    had = {service.run(run).state.seq: service.run(run).state}
    for _ in range(orders):
        clock.at_s += pick.choice([1, 5, 40, 200, 900])
        if pick.random() < 0.02:
            clock.step += pick.choice([1, -1]) * timedelta(hours=1)
        service.watch_clock()
        for command in any_orders(pick, service.situation(run)):
            back_s = pick.choice([0, 0, 30]) if isinstance(command, MarkStep | AcknowledgeWarning) else 0
            with suppress(Refusal):
                service.order(run, command, sender(), max(0, service.run(run).now_s() - back_s)).result()
            had[service.run(run).state.seq] = service.run(run).state
    with suppress(Refusal):
        service.order(run, EndRun("over"), sender()).result()
    return had | {service.run(run).state.seq: service.run(run).state}


def _tell_demo(service: Service, clock: SetClock, run: int) -> dict[int, State]:
    """The run that `leadline demo` shows: it has what generated orders seldom come to."""
    had = {}
    for entered, command, happened in history():
        clock.at_s = read_clock(entered)
        service.order(run, command, sender(), None if happened is None else read_clock(happened)).result()
        had[service.run(run).state.seq] = service.run(run).state
    return had


def differences(seed: int, orders: int) -> tuple[list[str], int, set[str]]:
    """Of one run, generated but for seed 0, which is the demo's.

    Returns:
        Where replay is not live, how many moments were compared, and the kinds of its events.
    """
    pick, clock = random.Random(seed), SetClock()
    with scratch() as folder:
        with store(folder) as opened:
            service = Service(opened, clock.server())
            text = PROCEDURES[seed % len(PROCEDURES) - 1]
            run = service.start_run(service.shelf.load(text, "generated.yaml").hash, "rehearsal", sender())
            had = _drive(service, clock, run, pick, orders) if seed else _tell_demo(service, clock, run)
            report = situation_report(service.situation(run))
        with store(folder) as opened:
            log = opened.read(lambda conn: journal.read(conn, run))
            again = Service(opened, clock.server())
            wrong = [f"run {seed}: at seq {seq}" for seq, state in had.items() if fold(log[:seq]) != state]
            wrong += unless(again.run(run).state == had[max(had)], f"run {seed}: after a restart")
            wrong += unless(
                situation_report(again.situation(run)) == report, f"run {seed}: its figures after a restart"
            )
    return wrong, len(had), {kind_of(each.event) for each in log}


def row(runs: int, orders: int = 120) -> Row:
    """So many runs of three procedures, each compared at every seq that the service had."""
    wrong, moments, kinds = list[str](), 0, set[str]()
    for seed in range(runs):
        found, compared, seen = differences(seed, orders)
        wrong, moments, kinds = wrong + found, moments + compared, kinds | seen
    return Row(
        PROMISE,
        "generated runs of every order there is, and the demo's, over SQLite; PostgreSQL when there is such a store",
        {
            "runs": runs,
            "moments compared": moments,
            "kinds of events": f"{len(kinds)} of {len(KINDS)}",
            "differences": len(wrong),
        },
        tuple(wrong[:5] + unless(runs < len(PROCEDURES) or moments > 5 * runs, "hardly anything was compared")),
    )
