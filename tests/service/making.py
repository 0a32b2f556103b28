"""Small makers for the tests of the service and the web: a clock that is set by hand, procedures, senders."""

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from app.core.procedure import StepId
from app.service.runs import Service
from app.service.values import Sender
from app.settings import HOME, Settings
from app.store.clock import ServerClock
from app.store.sqlite_store import SqliteStore
from app.store.store import Store
from app.web.keys import new_key
from tests.core.running import orders_for

BEGUN = datetime(2031, 5, 4, 7, 0, tzinfo=UTC)
SAMPLES = HOME / "procedures"

SMALL = b"""\
procedure: mast
title: Mast work
crew: {EV1: {does: Left}, EV2: {does: Right}}
on_plan_within: 0 s
tasks:
  - task: rig
    title: Rig the mast
    who: EV1
    steps:
      - {do: Open the box, takes: 5 min}
      - {do: Raise the mast, takes: 10 min, record: {angle: {unit: deg, from: 0, to: 90}}}
  - task: wire
    title: Wire the lamp
    who: EV2
    after: [rig]
    steps:
      - {do: Join the wires, takes: 10 min}
      - {do: Is the lamp lit?, takes: 2 min, hold: {go: [EV1, EV2]}}
  - task: paint
    title: Paint the foot
    who: EV1
    may_put_off: true
    worth: 3
    steps:
      - {do: Paint it grey, takes: 10 min}
  - task: sweep
    title: Sweep the yard
    who: EV2
    get_ahead: true
    steps:
      - {do: Sweep it, takes: 3 min}
"""
"""Plan: rig 0:00 to 0:15, wire 0:15 to 0:27, paint 0:15 to 0:25. EV2 has 15 minutes of nothing before wiring."""

ANGLE = (("angle", 45.0),)
"""What ``rig/2`` records, in tolerance."""


@dataclass
class SetClock:
    """Two clocks that stand still until they are moved. A step moves the wall clock alone."""

    at_s: float = 0
    step: timedelta = field(default_factory=timedelta)
    boot: str = "the first"

    def utc(self) -> datetime:
        return BEGUN + timedelta(seconds=self.at_s) + self.step

    def monotonic(self) -> float:
        return self.at_s

    def server(self) -> ServerClock:
        return ServerClock(self.utc, self.monotonic, lambda: self.boot)


def settings(folder: Path, procedures: Path = SAMPLES) -> Settings:
    return Settings(folder / "data", procedures)


def store(folder: Path) -> Store:
    made = settings(folder)
    return SqliteStore(made.data, made.migrations, "test")


def sender(key: str = "") -> Sender:
    return Sender("Ground", "station 1", key or new_key())


def done(service: Service, run: int, step: StepId, at_s: int | None = None) -> None:
    """Have a step marked with all that it takes, now or at an earlier second."""
    for command in orders_for(service.situation(run), step):
        service.order(run, command, sender(), at_s).result()


def small_run(service: Service, kind: str = "rehearsal") -> int:
    """A run of SMALL whose zero is now."""
    return service.start_run(service.shelf.load(SMALL, "mast.yaml").hash, kind, sender())
