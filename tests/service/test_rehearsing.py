"""Rehearsals from a script, and whole ones that simulated people have done, as a store has them."""

from datetime import timedelta
from pathlib import Path

import pytest

from app.core.commands import Refusal
from app.core.commands_rehearsal import SetInject
from app.core.events import NoteAdded, RunStarted
from app.core.events_rehearsal import ClockRuled, InjectSet, PlayersSet
from app.core.fold import fold
from app.core.script import Drawn, Script
from app.core.simulated import simulate
from app.core.trouble import draw_trouble
from app.service.rehearsing import begin, keep
from app.service.runs import Service
from app.service.values import Refused
from app.store.store import Store
from app.store.verifying import verify
from app.web.keys import new_key
from tests.service.making import BEGUN, SAMPLES, SMALL, SetClock, store

SAMPLE = (SAMPLES / "pump-changeout.yaml").read_bytes()


def _kept(opened: Store, seed: int) -> int:
    service = Service(opened, SetClock().server())
    loaded = service.shelf.load(SAMPLE, "pump-changeout.yaml")
    made = simulate(loaded.prepared, loaded.hash, BEGUN, seed, draw_trouble(loaded.prepared, seed, 4))
    return keep(opened, service.shelf, made, BEGUN, new_key)


def test_a_whole_run_that_was_kept_is_a_sound_one_that_has_ended(tmp_path: Path) -> None:
    with store(tmp_path) as opened:
        run = _kept(opened, 3)
        assert opened.read(lambda conn: verify(conn, run)).fault is None
        service = Service(opened, SetClock(at_s=10**6).server())
        live = service.run(run)
        assert (live.stored.kind, live.stored.zero_utc) == ("rehearsal", BEGUN)
        assert live.now_s() == live.state.ended_s
        assert fold(live.log) == live.state
        started, note, players = (each.event for each in live.log[:3])
        assert isinstance(started, RunStarted)
        assert note == NoteAdded("Simulated from seed 3: nobody did this.")
        assert players == PlayersSet(("EV1", "EV2", "ARM", "GROUND"), 3)
        assert all(each.logged_at == BEGUN + timedelta(seconds=each.logged_s) for each in live.log)
        assert all(each.station == "simulated" for each in live.log)


def test_kept_runs_of_one_seed_say_the_same(tmp_path: Path) -> None:
    with store(tmp_path) as opened:
        one, other = _kept(opened, 3), _kept(opened, 3)
        service = Service(opened, SetClock().server())
        first, second = ([(each.at_s, each.event) for each in service.run(run).log] for run in (one, other))
        assert first == second


def test_a_script_becomes_the_first_orders_of_a_rehearsal(tmp_path: Path) -> None:
    trouble = SetInject("delay", 600, "stuck", step="rig/1", by_s=60)
    script = Script("mast", players=("EV2",), speed=4, injects=(trouble,), random=Drawn(5, 2))
    with store(tmp_path) as opened:
        run = begin(opened, SMALL, "mast.yaml", script, 9, new_key)
        log = Service(opened, SetClock().server()).run(run).log
    kinds = [type(each.event) for each in log]
    assert kinds == [RunStarted, PlayersSet, InjectSet, InjectSet, InjectSet, ClockRuled]
    assert log[1].event == PlayersSet(("EV2",), 9)
    assert log[2].event == InjectSet("inject-1", "delay", 600, "stuck", step="rig/1", by_s=60)
    assert log[-1].event == ClockRuled(4, 0)
    assert {each.at_s for each in log} == {0}


def test_a_script_without_anything_is_a_plain_rehearsal(tmp_path: Path) -> None:
    with store(tmp_path) as opened:
        run = begin(opened, SMALL, "mast.yaml", Script(), 9, new_key)
        assert [type(each.event) for each in Service(opened, SetClock().server()).run(run).log] == [RunStarted]


def test_a_stopped_script_waits_at_zero(tmp_path: Path) -> None:
    with store(tmp_path) as opened:
        run = begin(opened, SMALL, "mast.yaml", Script(players=None, stopped=True), 9, new_key)
        clock = SetClock(at_s=10**9)
        live = Service(opened, clock.server()).run(run)
        assert live.state.rehearsal.players == ("EV1", "EV2")
        assert live.now_s() == 0


def test_what_can_not_be_started_starts_nothing(tmp_path: Path) -> None:
    with store(tmp_path) as opened:
        with pytest.raises(Refused):
            begin(opened, b"procedure: x", "x.yaml", Script(), 1, new_key)
        with pytest.raises(Refusal, match="Nobody of this run is called EV9"):
            begin(opened, SMALL, "mast.yaml", Script(players=("EV9",)), 1, new_key)
        assert Service(opened, SetClock().server()).runs() == ()
