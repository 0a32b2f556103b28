"""Replay: what its bar has, where its links lead, and that the last moment of a run is the run."""

import re
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.core.commands import (
    AddNote,
    Command,
    EndRun,
    GiveGo,
    GiveNoGo,
    MarkStep,
    PutBack,
    PutOff,
    RecordStart,
    Refusal,
    ReopenStep,
    SetNotNeeded,
    TakeWork,
    UndoMark,
)
from app.core.commands_live import RaiseFlag
from app.core.times import clock
from app.web.pages import show
from app.web.render import Part
from tests.service.making import ANGLE, SMALL, sender
from tests.web.site import HX, Site, words

PAST_PAGES = ("desk", "lead", "list/EV1", "handover")
HOSTILE = "<b>late</b> & “gone”"


def part(page: str, name: str) -> str:
    """The part of a whole page with this id, to the mark that ends it."""
    found = re.search(rf'<(?:div|details|header)[^>]* ?id="{name}".*?value="{name}:', page, re.S)
    assert found, f"no part {name}"
    return found[0]


def told(site: Site) -> int:
    """A run of twenty minutes with a flag at 1, rig/1 done at 5, a no-go at 6, work put off at 7, nothing after it."""
    run = site.start()
    told: tuple[tuple[int, str, dict[str, str]], ...] = (
        (60, "flag", {"reason": HOSTILE}),
        (300, "mark", {"step": "rig/1"}),
        (300, "poll", {"text": "Ready to wire?"}),
        (360, "poll-no-go", {"poll": "poll-1", "person": "EV2", "reason": "rope frayed"}),
        (420, "put-off", {"task": "paint", "reason": HOSTILE}),
    )
    for at_s, do, fields in told:
        site.clock.at_s = at_s
        answer = site.order(run, do, hx=False, **fields)
        assert answer.status_code == 303, words(answer.text)
    site.clock.at_s = 1_200
    return run


@pytest.mark.parametrize("name", PAST_PAGES)
def test_a_page_of_the_past_has_the_bar_and_a_page_of_now_only_the_way_into_it(site: Site, name: str) -> None:
    run = told(site)
    past, now = site.page(f"/runs/{run}/{name}?at=0:05:30"), site.page(f"/runs/{run}/{name}")
    assert 'id="replay"' in past
    assert f'href="/runs/{run}/{name}?at=00:07:00"' in now, "the last event"
    assert 'id="replay"' not in now
    assert 'class="into-replay"' not in past


def test_a_page_without_a_past_leads_to_the_desk_and_an_ended_run_to_its_beginning(site: Site) -> None:
    run = told(site)
    assert f'href="/runs/{run}/desk?at=00:07:00" class="into-replay"' in site.page(f"/runs/{run}/log")
    site.order(run, "end", reason="called in")
    assert f'href="/runs/{run}/lead?at=00:00:00" class="into-replay"' in site.page(f"/runs/{run}/lead")


def test_the_links_go_from_event_to_event_and_end_where_there_is_none(site: Site) -> None:
    run = told(site)
    seconds = [0, 60, 300, 360, 420]
    for earlier, later in pairwise(seconds):
        for at_s, name, there in ((earlier, "next", later), (later, "previous", earlier)):
            bar = part(site.page(f"/runs/{run}/desk?at={clock(at_s)}"), "replay")
            link = re.search(rf'<a id="replay-{name}"[^>]*>', bar)
            assert link
            assert f'href="?at={clock(there)}" data-seek="{there}"' in link[0]
    assert "Previous event: there is none" in part(site.page(f"/runs/{run}/desk?at=0:00"), "replay")
    assert "Next event: there is none" in part(site.page(f"/runs/{run}/desk?at=0:07"), "replay")


def test_between_two_events_the_links_lead_to_both(site: Site) -> None:
    bar = part(site.page(f"/runs/{told(site)}/desk?at=0:05:30"), "replay")
    assert ('href="?at=00:05:00"' in bar, 'href="?at=00:06:00"' in bar) == (True, True)


def test_no_go_put_off_and_flags_are_links_with_their_words_which_are_text(site: Site) -> None:
    page = site.page(f"/runs/{told(site)}/desk?at=0:02:00")
    jumps = part(page, "replay-jumps")
    assert "No-go 1 " in words(jumps)
    for moment, said in (
        ("00:01:00", HOSTILE),
        ("00:06:00", "EV2 is NO-GO"),
        ("00:06:00", "rope frayed"),
        ("00:06:00", "Ready to wire?"),
        ("00:07:00", HOSTILE),
    ):
        rows = re.findall(rf'<a href="\?at={moment}".*?</a>', jumps)
        assert [row for row in rows if said in words(row)], f"{moment}: {said}"
    assert "<b>late</b>" not in page


def test_where_the_lead_turned_is_looked_for_when_asked_and_told_to_the_second(site: Site) -> None:
    """rig/2 should be over at 15:00 and is not; SMALL reads "on plan" at nothing but zero."""
    run = told(site)
    before = words(part(site.page(f"/runs/{run}/desk?at=0:02:00"), "replay-jumps"))
    assert "Looked through up to 00:00:00" in before
    jumps = part(site.page(f"/runs/{run}/desk?at=0:02:00&look=1"), "replay-jumps")
    assert "Looked through" not in jumps
    assert [words(row) for row in re.findall(r'<a href="\?at=00:15:01".*?</a>', jumps)] == ["00:15:01 Team behind"]
    shown = [site.json(f"/api/runs/{run}?at={second}")["lead_s"] for second in (900, 901)]
    assert shown == [0, -1]


def test_a_station_that_has_all_parts_of_a_moment_is_sent_those_that_another_one_changes(site: Site) -> None:
    """The figures too: no stream keeps them fresh."""
    run = told(site)
    page = site.page(f"/runs/{run}/desk?at=0:02:00")
    have = [("have", each) for each in re.findall(r'class="have" name="have" value="([^"]*)"', page)]
    same = site.get(f"/runs/{run}/desk", params=[*have, ("at", "0:02:00")], headers=HX).text
    later = site.get(f"/runs/{run}/desk", params=[*have, ("at", "0:02:01")], headers=HX).text
    assert "hx-partial" not in same
    assert {"#bar", "#replay"} <= set(re.findall(r'hx-target="(#[^"]*)"', later))
    assert "data-reload" not in later
    assert "00:02:01" in later


def test_a_figure_alone_makes_a_part_of_the_past_another_one(site: Site) -> None:
    run = told(site)
    bands = [
        {each.id: each.mark for each in show(site.shell, run, "desk", "watch", at).parts if each.id.startswith("band")}
        for at in ("0:02:00", "0:02:01")
    ]
    assert bands[0] != bands[1]


@pytest.mark.parametrize(("at", "status"), [("0:20:01", 404), ("-21 min", 404), ("soon", 422)])
def test_a_moment_that_has_not_come_is_refused_in_words(site: Site, at: str, status: int) -> None:
    answer = site.get(f"/runs/{told(site)}/desk", params={"at": at})
    assert answer.status_code == status
    assert len(words(answer.text)) > 100


def test_of_a_run_that_has_ended_no_moment_is_said_to_come_yet(site: Site) -> None:
    run = told(site)
    site.order(run, "end", reason="called in")
    answer = words(site.get(f"/runs/{run}/desk", params={"at": "0:20:01"}).text)
    assert "before zero or after its end" in answer
    assert "has not come yet" not in answer


def test_many_moments_of_a_kind_are_listed_as_far_as_they_are_near(site: Site) -> None:
    run = site.start()
    for number in range(100):
        site.clock.at_s = 10 * number
        site.order(run, "flag", reason=f"flag {number}")
    jumps = part(site.page(f"/runs/{run}/desk?at=0:08:20"), "replay-jumps")
    assert "The 60 nearest of 100" in words(jumps)
    shown = [int(each) for each in re.findall(r'data-seek="(\d+)"', jumps)]
    assert (len(shown), min(shown), max(shown)) == (60, 200, 790)


STEPS, TASKS = ("rig/1", "rig/2", "wire/1", "wire/2", "paint/1"), ("rig", "wire", "paint", "sweep")
_steps, _tasks = st.sampled_from(STEPS), st.sampled_from(TASKS)
ORDERS: st.SearchStrategy[Command] = st.one_of(
    *[st.builds(MarkStep, _steps, st.just(ANGLE))] * 3,
    *[st.builds(MarkStep, _steps)] * 3,
    st.builds(UndoMark, _steps),
    st.builds(ReopenStep, _steps, st.just("slip")),
    st.builds(RecordStart, _steps),
    st.builds(SetNotNeeded, _steps, st.just("cut")),
    st.builds(GiveGo, st.just("wire/2"), st.sampled_from(("EV1", "EV2"))),
    st.builds(GiveNoGo, st.just("wire/2"), st.sampled_from(("EV1", "EV2")), st.just("wind")),
    st.builds(PutOff, _tasks, st.just("late")),
    st.builds(PutBack, _tasks, st.just("time")),
    st.builds(TakeWork, _tasks),
    st.just(AddNote("well")),
    st.just(RaiseFlag("torn")),
)


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(told_to=st.lists(st.tuples(ORDERS, st.integers(0, 240), st.sampled_from([0, 0, 30])), max_size=14))
def test_replay_at_the_last_event_is_the_live_state(site: Site, told_to: list[tuple[Command, int, int]]) -> None:
    """Whatever was ordered, refused or not, at once or late: each board, and all of each part of it.

    But for "what if", which a run that has ended is asked no more, and any moment of it is.
    """
    service = site.shell.service
    run = service.start_run(site.load(SMALL), "rehearsal", sender())
    for command, later_s, late_s in told_to:
        site.clock.at_s += later_s
        at_s = max(0, service.run(run).now_s() - late_s) if isinstance(command, MarkStep) else None
        try:
            service.order(run, command, sender(), at_s).result()
        except Refusal:
            continue
    service.order(run, EndRun("done"), sender()).result()
    end = clock(service.run(run).now_s())
    for page in PAST_PAGES:
        live, replayed = show(site.shell, run, page, "watch"), show(site.shell, run, page, "watch", end)
        assert [_plain(each) for each in replayed.parts] == [_plain(each) for each in live.parts]
        assert (replayed.bar.lead, replayed.bar.elapsed, replayed.bar.seq) == (
            *(live.bar.lead, live.bar.elapsed, live.bar.seq),
        )


def _plain(one: Part) -> str:
    """Its html without its mark, which counts the figures in Replay alone, and without the moment in its links."""
    return "" if one.id == "lead-what_if" else re.sub(r"\?at=[0-9:]+", "", one.html.replace(one.mark, ""))
