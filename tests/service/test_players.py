"""Simulated people in a server: the same log at any speed and over a restart, and nothing in the way of anybody."""

import logging
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pytest

from app.core.commands import EndRun, MarkStep
from app.core.commands_live import CountAction
from app.core.commands_rehearsal import RuleClock, SetPlayers
from app.core.events import Event, Logged, RunEnded
from app.core.events_rehearsal import ClockRuled, InjectDone
from app.core.simulated import simulate
from app.core.simulating_cast import Act
from app.core.situation import Situation
from app.core.trouble import draw_trouble
from app.service.players import Players
from app.service.runs import Service
from app.settings import HOME
from app.store.library import Origin
from app.store.playing import played
from tests.service.making import BEGUN, SAMPLES, SetClock, sender, small_run, store

SEED = 7
SAMPLE = (SAMPLES / "pump-changeout.yaml").read_bytes()
NOW_ONLY = (RunEnded, InjectDone)
"""What can't be entered late has the second at which it was entered, on a clock that jumps as on any other."""


def _start(service: Service, rate: float = 1, who: tuple[str, ...] = ()) -> int:
    """A rehearsal of the sample with five troubles and everybody, or `who`, simulated, from its zero on."""
    loaded = service.shelf.load(SAMPLE, "pump-changeout.yaml")
    run = service.start_run(loaded.hash, "rehearsal", sender())
    crew = who or tuple(person.designator for person in loaded.prepared.procedure.crew)
    service.order(run, SetPlayers(crew, SEED), sender()).result()
    for trouble in draw_trouble(loaded.prepared, SEED, 5):
        service.order(run, trouble, sender()).result()
    if rate != 1:
        service.order(run, RuleClock(rate), sender()).result()
    return run


def _told(log: list[Logged]) -> list[tuple[int | None, str, Event]]:
    """What is said in a log, but for when it was logged and how the clock went."""
    return [
        (None if isinstance(each.event, NOW_ONLY) else each.at_s, each.by, each.event)
        for each in log[1:]
        if not isinstance(each.event, ClockRuled)
    ]


@contextmanager
def _opened(folder: Path, clock: SetClock) -> Iterator[tuple[Service, Players]]:
    with store(folder) as opened:
        service = Service(opened, clock.server())
        yield service, Players(service)


def _play(service: Service, players: Players, clock: SetClock, run: int, until_s: float = 40_000) -> None:
    """A look each second of the world until the run ends."""
    while service.run(run).state.ended_s is None and clock.at_s < until_s:
        clock.at_s += 1
        players.play()


def _log_at(folder: Path, rate: float) -> list[Logged]:
    clock = SetClock()
    with _opened(folder, clock) as (service, players):
        run = _start(service, rate)
        _play(service, players, clock, run)
        return list(service.run(run).log)


def test_a_run_at_sixty_times_the_speed_is_as_dense_as_one_at_its_own(tmp_path: Path) -> None:
    slow, fast = _log_at(tmp_path / "slow", 1), _log_at(tmp_path / "fast", 60)
    assert isinstance(slow[-1].event, RunEnded)
    assert len(slow) > 100
    assert _told(fast) == _told(slow)
    late = [each.logged_s - each.at_s for each in fast]
    assert max(late) <= 60
    assert any(late), "the clock did jump"
    assert all(each.logged_s == each.at_s for each in slow)


def test_it_is_the_run_that_is_made_in_memory(tmp_path: Path) -> None:
    clock = SetClock()
    with _opened(tmp_path, clock) as (service, players):
        run = _start(service)
        _play(service, players, clock, run)
        live = service.run(run)
        made = simulate(live.prepared, live.stored.revision, BEGUN, SEED, draw_trouble(live.prepared, SEED, 5))
        orders = [(order.at_s, order.by, event) for order in made.orders for event in order.events]
        played_out = [(each.at_s, each.by, each.event) for each in live.log]
        first = 1 + 1 + 5
        assert played_out[first:] == orders[first:], "after the note, or run's beginning; players and troubles"


def test_a_server_that_was_started_anew_goes_on_from_the_log(tmp_path: Path) -> None:
    whole = _log_at(tmp_path / "whole", 60)
    clock, cut = SetClock(), tmp_path / "cut"
    with _opened(cut, clock) as (service, players):
        run = _start(service, 60)
        _play(service, players, clock, run, until_s=70)
    clock.at_s += 20  # Nobody is there for so long: what was due is entered late.
    for _ in range(3):
        with _opened(cut, clock) as (service, players):
            _play(service, players, clock, run, until_s=clock.at_s + 40)
    with _opened(cut, clock) as (service, players):
        _play(service, players, clock, run)
        assert _told(list(service.run(run).log)) == _told(whole)


def test_a_clock_set_forward_has_what_was_due_meanwhile_entered_late(service: Service) -> None:
    players, run = Players(service), _start(service)
    players.play()
    service.order(run, RuleClock(to_s=3600), sender()).result()
    players.play()
    log = service.run(run).log
    assert {each.logged_s for each in log if each.station == "simulated"} == {3600}
    assert len({each.at_s for each in log if each.station == "simulated"}) > 10


def test_who_did_it_and_that_it_was_simulated_stands_in_the_log(service: Service, clock: SetClock) -> None:
    players, run = Players(service), _start(service)
    clock.at_s = 1_200
    players.play()
    entered = [each for each in service.run(run).log if each.station == "simulated"]
    assert {each.by for each in entered} == {"EV1 (simulated)", "EV2 (simulated)"}
    assert len({each.key for each in entered}) == len(entered)


def test_a_stopped_clock_stops_them(service: Service, clock: SetClock) -> None:
    players, run = Players(service), _start(service)
    service.order(run, RuleClock(0), sender()).result()
    clock.at_s = 5_000
    players.play()
    assert not [each for each in service.run(run).log if each.station == "simulated"]


def test_a_trainee_between_them_is_waited_for(service: Service, clock: SetClock) -> None:
    players, run = Players(service), _start(service, who=("EV2", "ARM", "GROUND"))
    clock.at_s = 4_000
    players.play()
    assert not service.run(run).state.done, "EV1 and EV2 go out together, and EV1 is a trainee"
    assert list(service.run(run).state.progress.acks["go-out/1"]) == ["EV2"]


def test_live_runs_ended_ones_and_those_without_players_are_left_alone(service: Service, clock: SetClock) -> None:
    live, plain = small_run(service, "live"), small_run(service)
    ended = _start(service)
    service.order(ended, EndRun("enough"), sender()).result()
    before = {run: len(service.run(run).log) for run in (live, plain, ended)}
    clock.at_s = 3_000
    Players(service).play()
    assert {run: len(service.run(run).log) for run in before} == before
    assert service.store.read(played) == ()


def test_an_imported_run_is_a_record_and_nobody_plays_it(service: Service, clock: SetClock) -> None:
    run = _start(service)
    stored = service.run(run).stored
    service.run(run).stored = replace(stored, origin=Origin(3, BEGUN, "Ann", "run.jsonl"))
    before = len(service.run(run).log)
    clock.at_s = 3_000
    Players(service).play()
    assert len(service.run(run).log) == before


def test_players_set_while_the_server_runs_begin_at_the_next_look(service: Service, clock: SetClock) -> None:
    players, run = Players(service), small_run(service)
    players.play()
    clock.at_s = 30
    service.order(run, SetPlayers(("EV1",), SEED), sender()).result()
    clock.at_s = 1_000
    players.play()
    assert set(service.run(run).state.done) >= {"rig/1"}


def test_what_is_refused_is_logged_once_and_the_rest_goes_on(
    service: Service, clock: SetClock, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = small_run(service)
    service.order(run, SetPlayers(("EV1",), SEED), sender()).result()
    wrong, right = Act(10, CountAction("rig/2", 1), "EV1"), Act(20, MarkStep("rig/1"), "EV1")

    def coming(situation: Situation) -> tuple[Act, ...]:
        return (wrong,) if "rig/1" in situation.state.done else (wrong, right)

    monkeypatch.setattr("app.core.simulating.acts", coming)
    players = Players(service)
    clock.at_s = 60
    with caplog.at_level(logging.WARNING):
        for _ in range(5):
            players.play()
    assert service.run(run).state.done["rig/1"].at_s == 20
    assert [each.getMessage() for each in caplog.records] == [
        f"run {run}: CountAction of EV1 (simulated) was refused: “Raise the mast” (rig/2) is not counted; mark it."
    ]


def test_a_store_that_is_closed_is_the_end_of_it_without_a_word(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    clock = SetClock()
    with _opened(tmp_path, clock) as (service, players):
        _start(service)
        players.play()
        clock.at_s = 1_000
    players.play()
    assert not caplog.records


def test_after_a_stop_nothing_more_is_entered(service: Service, clock: SetClock) -> None:
    players, run = Players(service), _start(service)
    before = len(service.run(run).log)
    clock.at_s = 3_000
    players.stop()
    players.play()
    assert len(service.run(run).log) == before


def test_a_server_without_simulated_people_does_not_load_numpy_for_them() -> None:
    """It would delay each start by a fifth of a second or more."""
    code = "import sys, app.main, app.cli, app.demo, app.service.players; print('numpy' in sys.modules)"
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=HOME)
    assert said.stdout.strip() == "False"
