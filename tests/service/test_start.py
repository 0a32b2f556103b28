"""Starting a run: one run per press."""

from pathlib import Path

import pytest

from app.core.commands import MarkStep, Refusal
from app.service.runs import Service
from app.store.verifying import verify
from app.web.keys import new_key
from tests.service.making import SMALL, SetClock, sender, small_run, store


def test_a_double_press_of_start_makes_one_run(service: Service) -> None:
    revision, key = service.shelf.load(SMALL, "mast.yaml").hash, new_key()
    first = service.start_run(revision, "live", sender(key))
    second = service.start_run(revision, "live", sender(key))
    assert first == second
    assert [stored.run for stored in service.runs()] == [first]
    assert len(service.run(first).log) == 1


def test_a_double_press_is_one_run_after_a_restart_and_with_a_newer_revision_loaded(
    tmp_path: Path, clock: SetClock
) -> None:
    key = new_key()
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        service.shelf.load(SMALL, "mast.yaml")
        first = service.start_run("mast", "live", sender(key))
    with store(tmp_path) as opened:
        service = Service(opened, clock.server())
        service.shelf.load(SMALL.replace(b"5 min", b"6 min"), "mast.yaml")
        clock.at_s = 30
        assert service.start_run("mast", "live", sender(key)) == first
        assert len(service.runs()) == 1


def test_two_presses_with_keys_of_their_own_make_two_runs(service: Service) -> None:
    assert small_run(service) != small_run(service)


def test_a_key_that_started_one_run_does_not_start_another(service: Service) -> None:
    revision, key = service.shelf.load(SMALL, "mast.yaml").hash, new_key()
    service.start_run(revision, "live", sender(key))
    for kind, running_s in (("rehearsal", 0), ("live", 60)):
        with pytest.raises(Refusal) as refused:
            service.start_run(revision, kind, sender(key), running_s)
        assert refused.value.code == "key-reused"
    assert len(service.runs()) == 1


def test_a_key_of_an_order_may_still_start_a_run(service: Service) -> None:
    """Keys are one per press and per run; only the press that started a run is looked for."""
    run, key = small_run(service), new_key()
    service.order(run, MarkStep("rig/1"), sender(key)).result()
    assert service.start_run("mast", "live", sender(key)) == run + 1


def test_the_log_of_a_new_run_verifies(service: Service) -> None:
    run = small_run(service)
    assert service.store.read(lambda conn: verify(conn, run)).fault is None


def test_a_run_may_have_begun_already_and_never_begins_later(service: Service) -> None:
    service.shelf.load(SMALL, "mast.yaml")
    run = service.start_run("mast", "live", sender(), running_s=3_600)
    assert service.run(run).now_s() == 3_600
    for running_s in (-1, 3_600_000):
        with pytest.raises(Refusal):
            service.start_run("mast", "live", sender(), running_s)
    with pytest.raises(Refusal, match="live or a rehearsal"):
        service.start_run("mast", "practice", sender())
