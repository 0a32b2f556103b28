"""Replay is live: the fold of events 1 to N, read back, is the state that the service had at N, for generated runs.

Every run is made on SQLite and, where there is one, on PostgreSQL.
"""

import random
from collections.abc import Callable
from contextlib import AbstractContextManager, suppress
from datetime import timedelta
from itertools import chain

from app.core.commands import EndRun, MarkStep, Refusal
from app.core.commands_live import AcknowledgeWarning
from app.core.events import KINDS, kind_of
from app.core.fold import fold
from app.core.report import situation_report
from app.core.state import State
from app.core.times import read_clock
from app.demo import history
from app.service.runs import Service
from app.settings import HOME
from app.store import journal
from app.store.opening import open_store
from app.store.store import Store
from tests import postgres
from tests.harm.any_order import any_orders
from tests.harm.server import scratch
from tests.harm.stations import TEXT
from tests.harm.table import Row, unless
from tests.service.making import SAMPLES, SMALL, SetClock, sender, store

PROMISE = "replay = live"
THIRD = 3
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


Open = Callable[[str], AbstractContextManager[Store]]
"""A store of the same data by the name of who opens it."""


def differences(seed: int, orders: int) -> tuple[list[str], int, set[str]]:
    """`differences_on` SQLite."""
    with scratch() as folder:
        return differences_on(lambda _: store(folder), seed, orders)


def differences_on(opened_by: Open, seed: int, orders: int) -> tuple[list[str], int, set[str]]:
    """Of one run, generated but for seed 0, which is the demo's.

    Returns:
        Where replay is not live, how many moments were compared, and the kinds of its events.
    """
    pick, clock = random.Random(seed), SetClock()
    with opened_by("one") as opened:
        service = Service(opened, clock.server())
        text = PROCEDURES[seed % len(PROCEDURES) - 1]
        run = service.start_run(service.shelf.load(text, "generated.yaml").hash, "rehearsal", sender())
        had = _drive(service, clock, run, pick, orders) if seed else _tell_demo(service, clock, run)
        report = situation_report(service.situation(run))
    with opened_by("two") as opened:
        log = opened.read(lambda conn: journal.read(conn, run))
        again = Service(opened, clock.server())
        wrong = [f"run {seed}: at seq {seq}" for seq, state in had.items() if fold(log[:seq]) != state]
        wrong += unless(again.run(run).state == had[max(had)], f"run {seed}: after a restart")
        wrong += unless(situation_report(again.situation(run)) == report, f"run {seed}: its figures after a restart")
    return wrong, len(had), {kind_of(each.event) for each in log}


def _on_postgres(url: str, seed: int, orders: int) -> tuple[list[str], int, set[str]]:
    with scratch() as folder:
        return differences_on(lambda name: open_store(folder / name, HOME / "migrations", name, url), seed, orders)


def row(runs: int, orders: int = 120) -> Row:
    """So many runs of three procedures, each compared at every seq that the service had; on PostgreSQL every third."""
    found = [differences(seed, orders) for seed in range(runs)]
    why, other = postgres.why_not(), []
    if not why:
        url = postgres.cluster().new_database()
        other = [_on_postgres(url, seed, orders) for seed in range(0, runs, THIRD)]
    wrong = [*chain(*(each[0] for each in found)), *(f"PostgreSQL: {said}" for each in other for said in each[0])]
    moments, kinds = sum(each[1] for each in found), set[str]().union(*(each[2] for each in found))
    return Row(
        PROMISE,
        f"generated runs of every order there is, and the demo's, over SQLite; {why or 'some of them over PostgreSQL'}",
        {
            "runs": runs,
            "runs on PostgreSQL": len(other),
            "moments compared": moments + sum(each[1] for each in other),
            "kinds of events": f"{len(kinds)} of {len(KINDS)}",
            "differences": len(wrong),
        },
        tuple(wrong[:5] + unless(runs < len(PROCEDURES) or moments > 5 * runs, "hardly anything was compared")),
    )
