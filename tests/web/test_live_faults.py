"""The stream when the disk hangs or fails, when a reader is slow, and when a session ends: it lives, and says so."""

import json
import threading
from collections.abc import Callable
from datetime import timedelta

import pytest

from app.core.situation import Situation
from app.feed import ROOM, ROOM_PER_RUN
from app.service.values import Refused
from app.store.faults import StoreFailed
from app.web import live as live_module
from app.web.live import BEAT_S, WHOLE_EVERY
from tests.service.making import BEGUN
from tests.web.site import Site
from tests.web.streams import Heard


def fails(site: Site, monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """From here on no situation can be read from the disk. Returns what makes it well again."""

    def failing(*_: object) -> Situation:
        raise StoreFailed("The disk reported an error.")

    with_disk = site.shell.service.situation
    monkeypatch.setattr(site.shell.service, "situation", failing)
    return lambda: monkeypatch.setattr(site.shell.service, "situation", with_disk)


def test_while_no_tick_can_be_made_the_server_s_time_is_told(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    run = site.start()
    heard = Heard(site, [run])
    heard.until(lambda: len(heard.told("tick")) >= 2)
    fails(site, monkeypatch)
    site.wait(0.1)
    heard.messages.clear()
    site.clock.at_s = 75
    heard.until(lambda: len(heard.told("beat")) >= 2, within_s=10 + BEAT_S)
    assert heard.told("tick") == []
    assert heard.told("beat")[-1]["utc"] == (BEGUN + timedelta(seconds=75)).strftime("%Y-%m-%dT%H:%M:%S.000Z")


def test_a_disk_that_hangs_does_not_still_the_beat(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    run = site.start()
    heard = Heard(site, [run])
    heard.until(lambda: len(heard.told("tick")) >= 1)
    free = threading.Event()

    def hangs(*_: object) -> Situation:
        free.wait(30)
        raise StoreFailed("The disk reported an error.")

    monkeypatch.setattr(site.shell.service, "situation", hangs)
    late = Heard(site, [run])  # One that has not even begun.
    try:
        for each in (heard, late):
            each.until(lambda each=each: len(each.told("beat")) >= 2)  # type: ignore[misc] # bound at once
    finally:
        free.set()


def test_a_run_that_has_ended_is_still_told_the_time(site: Site) -> None:
    run = site.start()
    site.order(run, "end", reason="rain")
    heard = Heard(site, [run])
    heard.until(lambda: len(heard.told("tick")) + len(heard.told("beat")) >= 3)
    assert not any(tick["running"] for tick in heard.told("tick"))


def test_a_stream_that_can_t_begin_with_the_state_begins_with_it_later(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = site.start()
    well = fails(site, monkeypatch)
    heard = Heard(site, [run])
    heard.until(lambda: len(heard.told("beat")) >= 1)
    assert not heard.ended
    well()
    heard.until(lambda: any("t-rig/1" in tick["figures"] for tick in heard.told("tick")))


def test_a_reader_that_is_too_slow_is_told_the_whole_state_anew(site: Site) -> None:
    run, other = site.start(), site.start()
    heard = Heard(site, [run, other])
    heard.until(lambda: len(heard.told("tick")) >= 2)
    heard.messages.clear()
    feed = site.shell.feed
    (screen,) = feed._all
    room = screen._queue.maxsize - screen._queue.qsize()
    assert 0 < room <= ROOM + 2 * ROOM_PER_RUN
    for _ in range(room + 1):  # All in one pass of the loop: none can be read before the last.
        feed.tell(run, b"event: changed\nid: 1\ndata: {}\n\n")
    heard.until(lambda: {run, other} <= {tick["run"] for tick in whole(heard)}, within_s=WHOLE_EVERY / 2)
    assert heard.told("changed") == []


def whole(heard: Heard) -> list[dict[str, object]]:
    """The ticks that have all figures."""
    return [tick for tick in heard.told("tick") if "t-paint/1" in tick["figures"] and "finish" in tick["figures"]]


def test_a_session_that_is_ended_ends_its_streams_and_no_other(site: Site) -> None:
    run = site.start()
    mine, again = Heard(site, [run], "mine"), Heard(site, [0], "mine")
    nobodys = Heard(site, [run]), Heard(site, [run], "")
    others = Heard(site, [run], "theirs"), *nobodys
    for each in (mine, again, *others):
        each.until(lambda each=each: len(each.told("tick")) >= 1)  # type: ignore[misc]
    site.shell.feed.end_session("mine")
    mine.until(lambda: mine.ended and again.ended)
    site.wait(0.1)
    assert not any(each.ended for each in others)
    site.shell.feed.end_session("")  # The first account was added: from now on one signs in to look.
    mine.until(lambda: all(each.ended for each in nobodys))
    assert not others[0].ended


def test_a_stream_of_a_session_ends_after_a_while_so_that_the_session_is_looked_at_again(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = site.start()
    monkeypatch.setattr(live_module, "SESSION_LOOK_S", 0.2)
    mine, nobodys = Heard(site, [run], "mine"), Heard(site, [run])
    mine.until(lambda: mine.ended)
    assert not nobodys.ended


def test_screens_that_come_at_once_share_a_state_that_is_not_older_than_they(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = site.start()
    made: list[int] = []
    make = site.shell.live._first

    def counted(run: int) -> bytes:
        made.append(run)
        return make(run)

    monkeypatch.setattr(site.shell.live, "_first", counted)
    first = [Heard(site, [run]) for _ in range(40)]
    site.done(run, "rig/1")
    second = [Heard(site, [run]) for _ in range(40)]
    for each in (*first, *second):
        each.until(lambda each=each: len(each.told("tick")) >= 1)  # type: ignore[misc]
    assert all(each.told("tick")[0]["seq"] >= 2 for each in second)
    assert len(made) <= 4


def test_a_reader_that_goes_leaves_nothing_behind(site: Site) -> None:
    run = site.start()
    heard = [Heard(site, [run, 0]), Heard(site, [4711])]
    heard[0].until(lambda: len(heard[0].told("tick")) >= 2)
    heard[1].until(lambda: len(heard[1].told("unknown")) == 1)
    assert site.shell.feed.watched() in ((run, 0), (0, run)), "what there is not is not ticked for"
    for each in heard:
        each.leave()
    assert site.shell.feed.watched() == ()
    assert not site.shell.feed._all


def test_a_fault_in_looking_after_the_clock_does_not_end_the_ticks(
    site: Site, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def refused() -> None:
        raise Refused(())

    monkeypatch.setattr(site.shell.service, "watch_clock", refused)
    run = site.start()
    heard = Heard(site, [run])
    heard.until(lambda: len(heard.told("tick")) >= 3)
    assert "can't be looked after" in caplog.text


def test_a_run_that_can_be_read_no_more_costs_home_no_tick(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    old, run = site.start(), site.start()
    read = site.shell.service.run

    def refused(number: int) -> object:
        if number == old:
            raise Refused(())
        return read(number)

    monkeypatch.setattr(site.shell.service, "run", refused)
    home = Heard(site, [0, old])
    home.until(lambda: len(home.told("tick")) >= 2)
    assert {name.split("-")[1] for tick in home.told("tick") for name in tick["figures"]} == {str(run)}
    assert home.told("unknown") == [{"run": old}]


def test_a_hostile_text_forges_no_event_of_a_merged_stream(site: Site) -> None:
    text = "one\n\nevent: changed\nid: 77\ndata: {}\n\n"
    body = {"procedure": "forge", "title": text, "crew": {"EV1": {"does": text}}}
    tasks = [{"task": "a", "title": text, "who": "EV1", "steps": [{"do": text, "takes": "1 min"}]}]
    run = site.start(json.dumps(body | {"tasks": tasks}).encode())
    heard = Heard(site, [0, run])
    heard.until(lambda: len(heard.told("tick")) >= 2)
    assert heard.told("changed") == []
    assert all(
        each.count(b"\n") == each.count(b"event: ") + each.count(b"id: ") + each.count(b"data: ") + 1
        for each in heard.messages[1:]
    )
