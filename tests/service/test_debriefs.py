"""Debriefs of what is stored: a long log is told aside, what was read stands, runs of one procedure are found."""

import pytest

from app.core.commands import AddNote, EndRun, Refusal
from app.core.debrief import debrief
from app.service import debriefs
from app.service.aside import aside
from app.service.debriefs import comparison, debrief_of, read_now, siblings
from app.service.runs import Service
from app.store.faults import NoSuchRun
from tests.service.making import SAMPLES, SMALL, SetClock, done, sender, small_run


def told_a_little(service: Service, clock: SetClock) -> int:
    run = small_run(service)
    clock.at_s += 400
    done(service, run, "rig/1")
    service.order(run, AddNote("windy"), sender()).result()
    return run


def test_a_long_log_is_told_aside_and_says_the_same(
    service: Service, clock: SetClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    read = read_now(service, told_a_little(service, clock))
    here = debrief_of(read)
    monkeypatch.setattr(debriefs, "HERE", 2)
    try:
        assert debrief_of(read) == here == debrief(read.prepared, read.log, read.at_s)
    finally:
        aside().close()


def test_what_was_read_stands_whatever_comes_in(service: Service, clock: SetClock) -> None:
    run = told_a_little(service, clock)
    read = read_now(service, run)
    before = debrief_of(read)
    clock.at_s += 100
    service.order(run, EndRun("called in"), sender()).result()
    assert debrief_of(read) == before
    after = debrief_of(read_now(service, run))
    assert (before.ended, after.ended, after.at_s) == (False, True, before.at_s + 100)
    clock.at_s += 500
    assert debrief_of(read_now(service, run)) == after


def test_siblings_are_the_runs_of_every_revision_of_one_procedure(service: Service, clock: SetClock) -> None:
    first = told_a_little(service, clock)
    service.shelf.load((SAMPLES / "pump-changeout.yaml").read_bytes(), "pump.yaml")
    other = service.start_run("pump-changeout", "rehearsal", sender())
    later = service.shelf.load(SMALL.replace(b"takes: 3 min", b"takes: 4 min"), "mast.yaml")
    third = service.start_run(later.hash, "rehearsal", sender())
    assert [stored.run for stored in siblings(service, first)] == [third, first]
    assert [stored.run for stored in siblings(service, other)] == [other]


def test_only_runs_of_one_procedure_are_compared_each_once(service: Service, clock: SetClock) -> None:
    one, two = told_a_little(service, clock), told_a_little(service, clock)
    service.shelf.load((SAMPLES / "pump-changeout.yaml").read_bytes(), "pump.yaml")
    other = service.start_run("pump-changeout", "rehearsal", sender())
    assert [each.run for each in comparison(service, [two, one]).runs] == [two, one]
    for runs, code in (([one], "how-many"), ([one, one], "twice"), ([one, other], "other-procedure")):
        with pytest.raises(Refusal) as caught:
            comparison(service, runs)
        assert caught.value.code == code
    with pytest.raises(Refusal, match="from 2 to 12 runs"):
        comparison(service, list(range(1, 14)))
    with pytest.raises(NoSuchRun):
        comparison(service, [one, 99])
