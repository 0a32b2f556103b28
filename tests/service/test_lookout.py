"""Looking ahead: one outlook at a time, fresh while somebody looks, the same for the same state, and never stored."""

from concurrent.futures import ThreadPoolExecutor
from threading import Event

import pytest

from app.core.commands import PutOff, Refusal
from app.core.outlook import Outlook
from app.core.situation import Situation
from app.service import outlooks as module
from app.service.lookout import Lookout
from app.service.outlooks import Outlooks
from app.service.runs import Service
from tests.service.making import SAMPLES, SetClock, done, sender, small_run


@pytest.fixture
def lookout(service: Service) -> Lookout:
    return Lookout(service)


def same(one: Outlook, other: Outlook) -> bool:
    parts = ("forecast", "options", "chances", "best", "best_chance", "chain")
    return all(getattr(one, part) == getattr(other, part) for part in parts)


def test_the_same_state_has_the_same_outlook_live_in_the_past_and_on_another_server(
    service: Service, lookout: Lookout, clock: SetClock
) -> None:
    run = service.start_run(
        service.shelf.load((SAMPLES / "pump-changeout.yaml").read_bytes(), "p").hash, "live", sender()
    )
    clock.at_s = 700
    done(service, run, "go-out/1")
    live = lookout.outlook(run)
    assert live.forecast is not None
    clock.at_s = 2000
    assert same(lookout.outlook(run, 700), live)
    assert same(Lookout(service).outlook(run, 700), live)


def test_an_outlook_is_made_anew_after_an_event_and_after_ten_seconds(
    service: Service, lookout: Lookout, clock: SetClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "REST", 0)
    run = small_run(service)
    first = lookout.outlook(run)
    clock.at_s = 9
    assert lookout.outlook(run) is first
    clock.at_s = 10
    second = lookout.outlook(run)
    assert second.situation.at_s == 10
    service.order(run, PutOff("paint", "rain"), sender()).result()
    assert lookout.outlook(run).situation.state.seq == 2


def test_who_asks_while_one_is_made_gets_that_one(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    run, begun, pause, asked_for = small_run(service), Event(), Event(), list[int]()
    really = module.made

    def slow(situation: Situation) -> Outlook:
        asked_for.append(1)
        begun.set()
        pause.wait(5)
        return really(situation)

    monkeypatch.setattr(module, "made", slow)
    kept, situation = Outlooks(), service.situation(run)
    with ThreadPoolExecutor(8) as pool:
        asked = [pool.submit(kept.now, run, situation) for _ in range(8)]
        assert begun.wait(5)
        pause.set()
        assert len({id(each.result()) for each in asked}) == 1
    assert len(asked_for) == 1


def test_a_log_that_moves_faster_than_outlooks_are_made_is_told_the_newest_there_is(
    service: Service, lookout: Lookout, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "REST", 10_000)
    run = small_run(service)
    first = lookout.outlook(run)
    service.order(run, PutOff("paint", "rain"), sender()).result()
    assert lookout.outlook(run) is first


def test_nobody_looking_means_nothing_is_made(service: Service, lookout: Lookout, clock: SetClock) -> None:
    run = small_run(service)
    assert not lookout.is_due(run)
    assert lookout.newest(run) is None
    lookout.outlook(run)
    clock.at_s = 30
    assert lookout.is_due(run)


def test_refreshing_does_not_count_as_looking(
    service: Service, lookout: Lookout, clock: SetClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = small_run(service)
    lookout.outlook(run)
    clock.at_s = 30
    monkeypatch.setattr(module, "ASKED_S", 0)
    lookout.refresh(run)
    assert not lookout.is_due(run)


def test_few_past_outlooks_are_kept(service: Service, clock: SetClock) -> None:
    run, kept = small_run(service), Outlooks()
    clock.at_s = 100
    moments = [kept.past(run, service.situation(run, at_s)) for at_s in range(20)]
    assert kept.past(run, service.situation(run, 19)) is moments[-1]
    assert kept.past(run, service.situation(run, 0)) is not moments[0]
    assert len(kept._past) == module.PAST_KEPT


def test_what_is_tried_is_not_stored(service: Service, lookout: Lookout) -> None:
    run = small_run(service)
    before = service.run(run).log.copy()
    tried = lookout.what_if(run, ["EV1 loses 15 min", "put off paint"])
    assert tried.supposed.then.lead_s < tried.before.lead_s
    assert service.run(run).log == before
    assert service.situation(run).state.seq == 1
    with pytest.raises(Refusal, match="There is no person"):
        lookout.what_if(run, ["EV9 loses 15 min"])


def test_a_moment_that_has_not_come_has_no_outlook(service: Service, lookout: Lookout) -> None:
    with pytest.raises(Refusal, match="has not come"):
        lookout.outlook(small_run(service), 60)
