"""A press that a station kept while it had no link: its own time, no second effect, nothing from the future."""

from threading import Event

import pytest

from app.core.commands import (
    AddNote,
    Command,
    EndRun,
    GiveGo,
    MarkStep,
    PutOff,
    Refusal,
    ReopenStep,
    SetNotNeeded,
    UndoMark,
)
from app.service.runs import Service
from app.service.said_at import FAST_S
from app.web.keys import new_key
from tests.service.making import ANGLE, SetClock, done, sender, small_run


def refusal(
    service: Service, run: int, command: Command, at: str | int | None = None, pressed_s: int | None = None
) -> Refusal:
    with pytest.raises(Refusal) as refused:
        service.order(run, command, sender(), at, pressed_s).result()
    return refused.value


def times(service: Service, run: int) -> list[tuple[int, int]]:
    """Of each event: when it happened and when it was logged, elapsed seconds."""
    return [(logged.at_s, logged.logged_s) for logged in service.run(run).log]


def test_a_kept_press_happened_when_it_was_pressed_and_is_logged_when_it_arrives(
    service: Service, clock: SetClock
) -> None:
    run = small_run(service)
    clock.at_s = 3_900
    service.order(run, MarkStep("rig/1"), sender(), pressed_s=300).result()
    assert times(service, run)[-1] == (300, 3_900)
    assert service.run(run).state.done["rig/1"].at_s == 300


def test_a_time_that_counts_back_counts_from_the_press(service: Service, clock: SetClock) -> None:
    run = small_run(service)
    clock.at_s = 3_900
    service.order(run, MarkStep("rig/1"), sender(), "-2 min", 300).result()
    assert times(service, run)[-1] == (180, 3_900)


def test_a_time_that_was_typed_stands_as_it_was_typed(service: Service, clock: SetClock) -> None:
    run = small_run(service)
    clock.at_s = 3_900
    service.order(run, MarkStep("rig/1"), sender(), "0:04:10", 300).result()
    assert times(service, run)[-1] == (250, 3_900)


def test_a_typed_time_that_had_not_come_when_it_was_pressed_is_refused_as_it_would_have_been_then(
    service: Service, clock: SetClock
) -> None:
    """0:50:00 typed for 0:05:00: on arrival it is past, but nobody meant it."""
    run = small_run(service)
    clock.at_s = 3_900
    refused = refusal(service, run, MarkStep("rig/1"), "0:50:00", 300)
    assert refused.code == "future"
    assert "00:50:00" in str(refused)


def test_a_first_try_without_its_answer_and_the_kept_press_after_it_are_one_mark(
    service: Service, clock: SetClock
) -> None:
    """The first try was committed and its answer lost. It did not say when it was pressed; what is sent again does."""
    run, key = small_run(service), new_key()
    clock.at_s = 300
    first = service.order(run, MarkStep("rig/1"), sender(key)).result()
    clock.at_s = 3_900
    second = service.order(run, MarkStep("rig/1"), sender(key), pressed_s=299).result()
    third = service.order(run, MarkStep("rig/1"), sender(key), pressed_s=250).result()
    assert [(each.seq, each.events, each.repeated) for each in (second, third)] == [(first.seq, first.events, True)] * 2
    assert times(service, run) == [(0, 0), (300, 300)]


def test_a_kept_press_with_another_command_under_its_key_is_refused(service: Service, clock: SetClock) -> None:
    run, key = small_run(service), new_key()
    clock.at_s = 3_900
    service.order(run, MarkStep("rig/1"), sender(key), pressed_s=300).result()
    with pytest.raises(Refusal) as refused:
        service.order(run, MarkStep("rig/2", ANGLE), sender(key), pressed_s=400).result()
    assert refused.value.code == "key-reused"


@pytest.mark.parametrize("ahead_s", range(FAST_S + 1))
def test_a_station_a_little_fast_is_taken_as_now(service: Service, clock: SetClock, ahead_s: int) -> None:
    run = small_run(service)
    clock.at_s = 300
    service.order(run, MarkStep("rig/1"), sender(), pressed_s=300 + ahead_s).result()
    assert times(service, run)[-1] == (300, 300)


@pytest.mark.parametrize("pressed_s", [300 + FAST_S + 1, 10**9, 2**62])
def test_a_press_from_the_future_is_refused_in_words(service: Service, clock: SetClock, pressed_s: int) -> None:
    run = small_run(service)
    clock.at_s = 300
    refused = refusal(service, run, MarkStep("rig/1"), pressed_s=pressed_s)
    assert refused.code == "future"
    assert "00:05:00" in str(refused)
    assert times(service, run) == [(0, 0)]


def test_a_press_from_before_the_run_is_refused(service: Service, clock: SetClock) -> None:
    run = small_run(service)
    clock.at_s = 300
    assert refusal(service, run, MarkStep("rig/1"), pressed_s=-1).code == "too-early"
    assert refusal(service, run, MarkStep("rig/1"), "-10 min", 200).code == "too-early"


def test_a_kept_press_is_judged_by_what_is_known_at_its_own_time(service: Service, clock: SetClock) -> None:
    """Another station marked the step before it meanwhile, later than this one was pressed."""
    run = small_run(service)
    clock.at_s = 600
    service.order(run, MarkStep("rig/1"), sender(), 500).result()
    clock.at_s = 3_900
    refused = refusal(service, run, MarkStep("rig/2", ANGLE), pressed_s=400)
    assert "was done only at 00:08:20" in str(refused)
    service.order(run, MarkStep("rig/2", ANGLE), sender(), pressed_s=700).result()
    assert times(service, run)[-1] == (700, 3_900)


def test_a_kept_press_for_a_run_that_ended_meanwhile_is_refused(service: Service, clock: SetClock) -> None:
    run = small_run(service)
    clock.at_s = 600
    service.order(run, EndRun("called in"), sender()).result()
    clock.at_s = 3_900
    assert refusal(service, run, MarkStep("rig/1"), pressed_s=300).code == "ended"


def test_what_is_ordered_is_given_now_whenever_it_was_pressed(service: Service, clock: SetClock) -> None:
    """No station keeps such an order; if a program says when it was pressed all the same, that changes nothing."""
    run = small_run(service)
    clock.at_s = 300
    service.order(run, MarkStep("rig/1"), sender()).result()
    clock.at_s = 400
    for command in (UndoMark("rig/1"), PutOff("paint", "rain")):
        service.order(run, command, sender(), pressed_s=350).result()
        assert times(service, run)[-1] == (400, 400)


def test_several_kept_presses_keep_their_own_times_in_the_order_in_which_they_are_sent(
    service: Service, clock: SetClock
) -> None:
    run = small_run(service)
    clock.at_s = 7_200
    kept: tuple[tuple[Command, int], ...] = (
        (MarkStep("rig/1"), 300),
        (MarkStep("rig/2", ANGLE), 1_200),
        (SetNotNeeded("paint/1", "rain"), 1_201),
        (MarkStep("wire/1"), 1_900),
    )
    for command, pressed_s in kept:
        service.order(run, command, sender(), pressed_s=pressed_s).result()
    assert [at_s for at_s, _ in times(service, run)[1:]] == [300, 1_200, 1_201, 1_900]
    assert {logged_s for _, logged_s in times(service, run)[1:]} == {7_200}


@pytest.mark.parametrize("pressed_s", [100, 308, 309])
def test_a_press_from_before_its_step_was_reopened_is_put_before_the_person(
    service: Service, clock: SetClock, pressed_s: int
) -> None:
    """Another station marked it and reopened it meanwhile: whoever pressed did not know why."""
    run = small_run(service)
    clock.at_s = 305
    service.order(run, MarkStep("rig/1"), sender()).result()
    clock.at_s = 309
    service.order(run, ReopenStep("rig/1", "the lid came open"), sender()).result()
    clock.at_s = 400
    if pressed_s < 309:
        refused = refusal(service, run, MarkStep("rig/1"), pressed_s=pressed_s)
        assert refused.code == "reopened"
        assert "“Open the box” (rig/1) was asked for anew at 00:05:09" in str(refused)
        assert "rig/1" not in service.run(run).state.done
    else:
        service.order(run, MarkStep("rig/1"), sender(), pressed_s=pressed_s).result()
        assert service.run(run).state.done["rig/1"].at_s == 309


def test_a_kept_press_stands_though_another_stations_slip_was_undone(service: Service, clock: SetClock) -> None:
    run = small_run(service)
    clock.at_s = 305
    service.order(run, MarkStep("rig/1"), sender()).result()
    service.order(run, UndoMark("rig/1"), sender()).result()
    clock.at_s = 400
    service.order(run, MarkStep("rig/1"), sender(), pressed_s=303).result()
    assert service.run(run).state.done["rig/1"].at_s == 303


def test_a_kept_go_from_before_the_goes_were_asked_for_again_is_no_go_now(service: Service, clock: SetClock) -> None:
    run = small_run(service)
    for at_s, step in ((100, "rig/1"), (200, "rig/2"), (300, "wire/1")):
        clock.at_s = at_s
        done(service, run, step)
    service.order(run, GiveGo("wire/2", "EV2"), sender()).result()
    clock.at_s = 310
    service.order(run, ReopenStep("wire/1", "a wire is loose"), sender()).result()
    clock.at_s = 320
    done(service, run, "wire/1")
    clock.at_s = 400
    assert refusal(service, run, GiveGo("wire/2", "EV1"), pressed_s=305).code == "reopened"
    assert refusal(service, run, GiveGo("wire/2", "EV2"), pressed_s=299).code == "reopened"
    service.order(run, GiveGo("wire/2", "EV2"), sender(), pressed_s=330).result()
    assert service.run(run).state.answers["wire/2"]["EV2"].at_s == 330


def test_an_order_happened_when_it_arrived_however_long_the_disk_had_it_wait(service: Service, clock: SetClock) -> None:
    """Another program holds the database, or an fsync hangs; the station meanwhile shows the time of the press."""
    run = small_run(service)
    disk = Event()
    clock.at_s = 300
    service.store.write(lambda _: disk.wait(20))
    waiting = [
        service.order(run, command, sender())
        for command in (MarkStep("rig/1"), AddNote("slow today", None, None), PutOff("paint", "late"))
    ]
    clock.at_s = 340
    later = service.order(run, AddNote("later", None, None), sender())
    disk.set()
    for future in (*waiting, later):
        future.result(20)
    assert times(service, run)[1:] == [(300, 300), (300, 300), (300, 300), (340, 340)]
