"""The clock of a rehearsal is stopped, sped up and set forward: what elapsed is then, over restarts and steps too."""

from datetime import timedelta
from pathlib import Path

import pytest

from app.core.commands import AddNote, Refusal
from app.core.commands_rehearsal import RuleClock
from app.core.events import ClockStepped, NoteAdded
from app.service.runs import Service
from app.store.anchor import ANCHOR_NAME
from app.store.verifying import verify
from tests.service.making import SetClock, sender, small_run, store

EXACT = pytest.approx


def rule(service: Service, run: int, rate: float | None = None, to_s: int | None = None) -> None:
    service.order(run, RuleClock(rate, to_s), sender()).result()


def elapsed_s(service: Service, run: int) -> float:
    return service.run(run).clock.elapsed_s()


def test_elapsed_follows_each_ruling_from_its_moment_on(service: Service, clock: SetClock) -> None:
    run = small_run(service)
    clock.at_s = 100
    rule(service, run, 0)
    clock.at_s = 400
    assert elapsed_s(service, run) == 100
    rule(service, run, 10)
    clock.at_s = 430
    assert elapsed_s(service, run) == EXACT(400)
    rule(service, run, to_s=3600)
    assert elapsed_s(service, run) == EXACT(3600)
    rule(service, run, 1)
    clock.at_s = 440
    assert elapsed_s(service, run) == EXACT(3610)
    assert service.situation(run).at_s == 3610


def test_other_runs_go_on_as_the_world_does(service: Service, clock: SetClock) -> None:
    one, other = small_run(service), small_run(service)
    rule(service, one, 60)
    clock.at_s = 10
    assert elapsed_s(service, one) == EXACT(600)
    assert elapsed_s(service, other) == EXACT(10)


def test_what_is_entered_has_the_elapsed_of_the_ruled_clock(service: Service, clock: SetClock) -> None:
    run = small_run(service)
    rule(service, run, 30)
    clock.at_s = 10
    service.order(run, AddNote("here"), sender()).result()
    rule(service, run, 0)
    clock.at_s = 500
    service.order(run, AddNote("still here"), sender()).result()
    notes = [each for each in service.run(run).log if isinstance(each.event, NoteAdded)]
    assert [(each.at_s, each.logged_s) for each in notes] == [(300, 300), (300, 300)]


def test_what_arrives_while_the_clock_is_being_set_forward_comes_after_it(service: Service, clock: SetClock) -> None:
    run = small_run(service)
    clock.at_s = 5
    ruling = service.order(run, RuleClock(to_s=900), sender())
    note = service.order(run, AddNote("at once"), sender())
    assert ruling.result().seq == 2
    assert note.result().events[0]["at_s"] == 900


@pytest.mark.parametrize("rate", [0, 0.25, 1, 60])
@pytest.mark.parametrize("boot", ["the first", "another"])
@pytest.mark.parametrize("with_file", [True, False])
def test_elapsed_is_right_after_a_restart(
    tmp_path: Path, clock: SetClock, rate: float, boot: str, with_file: bool
) -> None:
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        run = small_run(service)
        clock.at_s = 100
        rule(service, run, rate, 1000)
        clock.at_s = 110
        service.watch_clock()
    if not with_file:
        (opened.data_dir / ANCHOR_NAME).unlink()
    clock.at_s, clock.boot = 160, boot
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        assert elapsed_s(service, run) == EXACT(1000 + 60 * rate, abs=0.05)
        assert opened.read(lambda conn: verify(conn, run)).ok


@pytest.mark.parametrize("rate", [0.25, 1, 60])
def test_a_step_of_the_wall_clock_is_logged_as_long_as_it_is_and_bends_nothing(
    tmp_path: Path, clock: SetClock, rate: float
) -> None:
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        run = small_run(service)
        clock.step += timedelta(seconds=100)
        service.watch_clock()
        clock.at_s = 50
        rule(service, run, rate, 1000)
        clock.at_s, clock.step = 60, clock.step - timedelta(hours=1)
        service.watch_clock()
        service.watch_clock()
        assert elapsed_s(service, run) == EXACT(1000 + 10 * rate, abs=0.05)
        steps = [each.event.step_ms for each in service.run(run).log if isinstance(each.event, ClockStepped)]
        assert steps == [100_000, -3_600_000]
    clock.boot, clock.at_s = "another", 70
    with store(tmp_path) as opened:
        assert elapsed_s(Service(opened, clock.server()), run) == EXACT(1000 + 20 * rate, abs=0.05)


def test_a_clock_that_stands_does_not_mind_a_step_and_goes_on_from_where_it_stood(
    service: Service, clock: SetClock
) -> None:
    run = small_run(service)
    clock.at_s = 50
    rule(service, run, 0)
    clock.step += timedelta(hours=1)
    service.watch_clock()
    assert elapsed_s(service, run) == 50
    rule(service, run, 1)
    clock.at_s = 60
    service.watch_clock()
    assert elapsed_s(service, run) == EXACT(60)
    assert not [each for each in service.run(run).log if isinstance(each.event, ClockStepped)]


def test_what_a_station_pressed_while_it_did_not_hear_that_the_clock_was_stopped_is_taken_as_now(
    service: Service, clock: SetClock
) -> None:
    run = small_run(service)
    clock.at_s = 10
    rule(service, run, 0)
    clock.at_s = 600
    kept = service.order(run, AddNote("kept"), sender(), pressed_s=600).result()
    assert kept.events[0]["at_s"] == 10
    with pytest.raises(Refusal, match="has not come yet"):
        service.order(run, AddNote("to come"), sender(), "0:05", 200).result()
