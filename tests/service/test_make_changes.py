"""Changes and added steps in a stored run: one press is one answer, and the same after a restart."""

from pathlib import Path

import pytest

from app.core.commands import AddStep, MakeChanges, PutOff, Refusal, ReviseTakes, TakeWork
from app.service.runs import Service
from app.web.keys import new_key
from tests.service.making import SetClock, sender, small_run, store
from tests.service.test_orders import rows

LOOK = AddStep("Look", ("EV1",), 60, None, (("rig", 2),), "asked")
ALL = MakeChanges(("put off paint", "rig/2 takes 12 min", "EV1 loses 2 min"), "dark")


def test_changes_are_stored_as_one_press(service: Service, tmp_path: Path) -> None:
    run, key = small_run(service), new_key()
    first = service.order(run, ALL, sender(key)).result()
    assert [(each["seq"], each["kind"]) for each in first.events] == [
        (2, "TasksPutOff"), (3, "TakesRevised"), (4, "TakesRevised")
    ]  # fmt: skip
    assert first.seq == 4
    again = service.order(run, ALL, sender(key)).result()
    assert (again.seq, again.events, again.repeated) == (4, first.events, True)
    assert [kind for _, kind in rows(tmp_path, run)] == [
        "RunStarted", "TasksPutOff", "TakesRevised", "TakesRevised"
    ]  # fmt: skip


def test_a_refusal_among_them_stores_none(service: Service, tmp_path: Path) -> None:
    run = small_run(service)
    with pytest.raises(Refusal, match=r"Change 2 of 2: .*may not be put off"):
        service.order(run, MakeChanges(("put off paint", "put off rig"), "rain"), sender()).result()
    assert len(rows(tmp_path, run)) == 1
    assert service.order(run, PutOff("paint", "rain"), sender()).result().seq == 2


def test_a_restart_leads_to_the_same_lists_and_figures(tmp_path: Path, clock: SetClock) -> None:
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        run = small_run(service)
        service.order(run, TakeWork("sweep"), sender()).result()
        service.order(run, LOOK, sender()).result()
        service.order(run, ALL, sender()).result()
        before = service.situation(run)
    with store(tmp_path) as opened:
        after = Service(opened, clock.server()).situation(run)
    assert (after.state, after.lists, after.projection) == (before.state, before.lists, before.projection)


def test_the_same_key_with_other_changes_is_refused(service: Service) -> None:
    run, key = small_run(service), new_key()
    service.order(run, MakeChanges(("take sweep",), "time"), sender(key)).result()
    with pytest.raises(Refusal, match="used for something else"):
        service.order(run, MakeChanges(("give back sweep",), "time"), sender(key)).result()


def test_the_past_is_shown_without_what_was_added_since(service: Service, clock: SetClock) -> None:
    run = small_run(service)
    clock.at_s = 100
    service.order(run, LOOK, sender()).result()
    clock.at_s = 200
    service.order(run, ReviseTakes("added-1/1", 600, "dark"), sender()).result()
    assert "added-1/1" not in service.situation(run, 50).network.index
    then, now = service.situation(run, 150), service.situation(run)
    number = now.network.index["added-1/1"]
    assert (then.network.takes_s[number], now.network.takes_s[number]) == (60, 600)
