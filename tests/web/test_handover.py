"""The handover: all that the next shift needs on one page, at any moment, and the order that hands over."""

import pytest

from tests.service.making import SAMPLES
from tests.web.site import Site, words
from tests.web.test_polls import form_that, last, part

PUMP = (SAMPLES / "pump-changeout.yaml").read_bytes()


def page(site: Site, run: int, at: str = "") -> str:
    return words(part(site.page(f"/runs/{run}/handover{f'?at={at}' if at else ''}"), "handover"))


def under_a_heading(shown: str, heading: str, following: str) -> str:
    """What stands between two headings."""
    return shown.split(heading, 1)[1].split(following, 1)[0]


def test_it_says_of_everybody_where_they_are_since_when_and_what_comes_then(site: Site) -> None:
    run = site.start()
    site.clock.at_s = 300
    site.done(run, "rig/1")
    site.clock.at_s = 400
    shown = page(site, run)
    assert "EV1 Raise the mast rig/2 · under way 00:05:00 ● on plan Paint it grey" in shown
    assert "EV2 Join the wires wire/1 · waiting Waits for EV1: Raise the mast, about 00:15" in shown
    site.clock.at_s = 900
    site.done(run, "rig/2", "paint/1")
    assert "EV1 Nothing left" in page(site, run)


def test_it_says_what_is_called_counted_or_started_and_not_done(site: Site) -> None:
    run = site.start(PUMP)
    assert "No step is called, counted in part, or has a recorded start." in page(site, run)
    site.clock.at_s = 2_000
    site.done(run, "go-out/1", "go-out/2", "unplug/1", "shut-valves/1")
    site.order(run, "start", step="unplug/2")
    site.order(run, "mark", step="shut-valves/2", value__turns="19")
    begun = under_a_heading(page(site, run), "Begun and not done", "Next joins and holds")
    assert "unplug/2 EV1, Unplug power P1 and cap it · started 00:33:20" in begun
    assert "Called complete 00:33:20 by Ground support: turns 19 turn (OUT OF TOLERANCE)" in begun


def test_it_tells_holds_polls_and_flags_with_who_said_what(site: Site) -> None:
    run = site.start()
    assert "No hold waits, no poll and no flag is open." in page(site, run)
    site.clock.at_s = 1_500
    site.done(run, "rig/1", "rig/2", "wire/1")
    site.order(run, "no-go", step="wire/2", person="EV1", reason="it flickers", heard="1")
    site.order(run, "poll", text="Go home?")
    site.order(run, "poll-no-go", poll="poll-1", person="EV2", reason="lamp first")
    site.order(run, "flag", reason="Fog comes in")
    shown = under_a_heading(page(site, run), "Holds, polls and flags", "Begun and not done")
    assert "HOLD EV2 , Is the lamp lit? · waits since 00:25:00; asked since then: EV2; EV1 NO-GO 00:25:00" in shown
    assert "POLL Go home? EV1 no answer; EV2 NO-GO: lamp first" in shown
    assert "FLAG the run : Fog comes in Ground support" in shown


def test_it_tells_supplies_rounds_and_tools_that_are_out(site: Site) -> None:
    run = site.start(PUMP)
    for at_s, value in ((600, "90"), (1_200, "80")):
        site.clock.at_s = at_s
        site.order(run, "reading", supply="battery", person="EV1", value=value)
    site.order(run, "round-good", round="gloves-and-suit", person="EV1", reason="fine")
    site.order(run, "tool", tool="camera", how="taken", person="EV2")
    site.order(run, "tool", tool="line wrench", how="left", person="EV1", where="bay 3")
    site.order(run, "tool", tool="pry bar", how="taken", person="EV1")
    site.order(run, "tool", tool="pry bar", how="stowed", person="EV1")
    site.clock.at_s = 5_000
    shown = page(site, run)
    # 10 % in 600 s from 80 % at 1,200 s: at the reserve of 12 % at 1,200 + 68 x 60 = 5,280 s.
    assert "00:20:00 EV1 battery · 80 %; reserve 12 %: in 4m 40s, 01:28:00" in shown
    assert "EV2 battery · no reading yet; reserve 12 %" in shown
    assert "EV2 gloves-and-suit · OVERDUE since 01:00:00, 23m 20s; not made yet" in shown
    assert "EV1 gloves-and-suit · DUE since 01:20:00, 3m 20s; last good 00:20:00: fine" in shown
    tools = under_a_heading(shown, "Tools out", "Decided in the last hour")
    assert "camera · EV2 has it" in tools
    assert "line wrench · LEFT by EV1 at bay 3" in tools
    assert "pry bar" not in tools
    assert "EV1 battery at reserve 01:28:00" in shown


def test_it_tells_the_next_joins_and_holds_in_order_of_time(site: Site) -> None:
    run = site.start()
    coming = under_a_heading(page(site, run), "Next joins and holds", "Supplies")
    assert coming.index("EV2: Join the wires · waits for EV1, Raise the mast") < coming.index("Hold: Is the lamp lit?")
    assert "00:25 Hold: Is the lamp lit? · go from EV1 and EV2" in coming


def test_it_tells_the_decisions_of_the_last_hour_with_their_reasons_and_not_older_ones(site: Site) -> None:
    run = site.start()
    site.order(run, "take", task="sweep")
    site.clock.at_s = 3_600
    site.order(run, "put-off", task="paint", reason="it rains")
    site.order(run, "flag", reason="Fog comes in")
    site.order(run, "clear-flag", flag="4", reason="it lifted")
    site.order(run, "poll", text="Go home?")
    site.order(run, "close-poll", poll="poll-1", reason="asked too early")
    site.order(run, "note", reason="The lid sticks", step="rig/1")
    site.done(run, "rig/1")
    shown = page(site, run)
    decided = under_a_heading(shown, "Decided in the last hour, and why", "Notes of the last hour")
    assert "Taken" not in decided
    assert "01:00:00 Put off: “Paint the foot”. it rains Ground support" in decided
    assert "Flag of entry 4 cleared: it lifted – FLAG on the run: Fog comes in" in decided
    assert "Poll closed (poll-1): asked too early – “Go home?”" in decided
    assert "Done" not in decided
    assert "Note on “Open the box” (rig/1): The lid sticks" in under_a_heading(shown, "Notes of the", "Hand over")


def test_a_correction_of_an_old_mark_is_a_decision_of_now(site: Site) -> None:
    run = site.start()
    site.clock.at_s = 300
    site.done(run, "rig/1")
    site.clock.at_s = 9_000
    site.order(run, "correct", step="rig/1", at="0:04:00", reason="noted the wrong minute")
    assert "02:30:00 Mark corrected: “Open the box” (rig/1), time 00:04:00, was 00:05:00." in page(site, run)


def test_handing_over_needs_a_name_and_stands_in_the_log_and_in_the_notes(site: Site) -> None:
    run = site.start()
    site.clock.at_s = 60
    form = form_that(site.page(f"/runs/{run}/handover"), "hand-over")
    assert {"to", "reason"} <= set(form)
    assert "needs a name of who takes over" in words(site.order(run, "hand-over", page="handover", to="").text)
    answer = site.order(run, "hand-over", page="handover", to="Mats", reason="EV1 is cold")
    assert answer.headers["location"] == f"/runs/{run}/handover"
    assert last(site, run) == ("ShiftHandedOver", {"to": "Mats", "text": "EV1 is cold"})
    assert "Shift handed over to Mats: EV1 is cold" in page(site, run)
    assert "Shift handed over to Mats: EV1 is cold" in words(site.page(f"/runs/{run}/log"))
    assert "sets its own name" in page(site, run)


def test_a_past_moment_is_told_as_it_stood_and_nothing_can_be_handed_over_there(site: Site) -> None:
    run = site.start()
    site.clock.at_s = 300
    site.done(run, "rig/1")
    site.order(run, "put-off", task="paint", reason="it rains")
    then = page(site, run, "0:04:59")
    assert "EV1 Open the box rig/1 · under way 00:00:00" in then
    assert "it rains" not in then
    assert "Nothing was decided." in then
    assert "<form" not in part(site.page(f"/runs/{run}/handover?at=0:04:59"), "handover")
    assert f"/runs/{run}/handover?at=00:04:59" in site.page(f"/runs/{run}/desk?at=0:04:59")


@pytest.mark.parametrize("second", [0, 4_000, 30_000])
@pytest.mark.parametrize("name", ["pump-changeout", "balloon-launch"])
def test_every_sample_has_its_handover_at_any_time(site: Site, name: str, second: int) -> None:
    run = site.start((SAMPLES / f"{name}.yaml").read_bytes())
    site.clock.at_s = second
    crew = site.json(f"/api/runs/{run}")["crew"]
    shown = page(site, run)
    assert all(person in shown for person in crew)


def test_an_ended_run_can_still_be_read(site: Site) -> None:
    run = site.start()
    site.order(run, "end", reason="called in by the yard")
    shown = page(site, run)
    assert "The run ended: called in by the yard" in shown
    assert "Hand over" not in shown
