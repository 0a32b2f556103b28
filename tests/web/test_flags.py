"""Flags and notes where they are looked for; calls that wait for the lead; what is refused in words."""

import pytest

from tests.service.making import SAMPLES
from tests.web.site import Site, words
from tests.web.test_polls import form_that, last, part


def test_a_flag_on_the_run_a_person_or_a_step_is_raised_from_desk_and_lead_board(site: Site) -> None:
    run = site.start()
    site.clock.at_s = 60
    site.order(run, "flag", reason="Smoke over the yard")
    site.order(run, "flag", reason="Cold hands", person="EV1", page="lead")
    site.order(run, "flag", reason="The lid is bent", step="rig/1")
    for page in ("desk", "lead"):
        shown = words(part(site.page(f"/runs/{run}/{page}"), "flags"))
        assert "FLAG the run : Smoke over the yard 00:01:00, Ground support" in shown
        assert "FLAG EV1 : Cold hands" in shown
        assert "FLAG “Open the box” (rig/1) : The lid is bent" in shown
    assert "Say what the flag is about" in words(site.order(run, "flag", reason=" ").text)


@pytest.mark.parametrize("page", ["desk", "lead", "list/EV2", "log", "handover", "plan"])
def test_the_number_of_open_flags_stands_in_the_bar_of_every_page(site: Site, page: str) -> None:
    run = site.start()
    bar = f"/runs/{run}/{page}"
    assert "flag" not in words(part(site.page(bar), "bar"))
    site.order(run, "flag", reason="one")
    assert "1 flag open" in words(part(site.page(bar), "bar"))
    site.order(run, "flag", reason="two")
    assert "2 flags open" in words(part(site.page(bar), "bar"))


def test_a_flag_is_cleared_with_a_reason_and_once(site: Site) -> None:
    run = site.start()
    site.order(run, "flag", reason="Smoke")
    form = form_that(part(site.page(f"/runs/{run}/lead"), "flags"), "clear-flag")
    assert form["flag"] == "2"
    assert "Say why the flag is cleared" in words(site.order(run, "clear-flag", flag="2", reason="").text)
    assert site.order(run, "clear-flag", flag="2", reason="It was steam").status_code == 303
    assert "Smoke" not in words(part(site.page(f"/runs/{run}/desk"), "flags"))
    assert "No flag is open" in words(part(site.page(f"/runs/{run}/lead"), "flags"))
    assert "No flag stands from entry 2" in words(site.order(run, "clear-flag", flag="2", reason="again").text)
    assert "Flag of entry 2 cleared: It was steam – FLAG on the run: Smoke" in words(site.page(f"/runs/{run}/log"))


def test_a_bad_round_is_a_flag_on_the_lead_board(site: Site) -> None:
    run = site.start((SAMPLES / "pump-changeout.yaml").read_bytes())
    site.order(run, "round-bad", round="gloves-and-suit", person="EV1", reason="A cut in the left glove")
    shown = words(part(site.page(f"/runs/{run}/lead"), "flags"))
    assert "FLAG EV1, round gloves-and-suit answered bad : A cut in the left glove" in shown


def test_values_out_of_tolerance_wait_on_the_lead_board_until_the_lead_accepts_them_with_a_reason(site: Site) -> None:
    run = site.start()
    site.clock.at_s = 300
    site.done(run, "rig/1")
    site.clock.at_s = 600
    site.order(run, "mark", step="rig/2", value__angle="95")
    board = part(site.page(f"/runs/{run}/lead"), "flags")
    shown = words(board)
    assert "WAITS FOR THE LEAD EV1 , Raise the mast rig/2" in shown
    assert "angle 95 deg is OUT OF TOLERANCE (0 to 90)." in shown
    assert "Called complete 00:10:00 by Ground support: angle 95 deg" in shown
    assert "Accept it with a reason, or have it measured and called again." in shown
    assert "reason" in words(site.order(run, "accept", step="rig/2", page="lead", reason="").text).lower()
    assert form_that(board, "accept")["step"] == "rig/2"
    site.order(run, "accept", step="rig/2", page="lead", reason="the gauge reads five high")
    assert site.states(run)["rig/2"] == "done"
    assert "WAITS" not in words(part(site.page(f"/runs/{run}/lead"), "flags"))


def test_measuring_again_is_the_other_way_out(site: Site) -> None:
    run = site.start()
    site.done(run, "rig/1")
    site.order(run, "mark", step="rig/2", value__angle="95")
    site.order(run, "mark", step="rig/2", value__angle="88")
    assert site.states(run)["rig/2"] == "done"
    assert "WAITS" not in words(part(site.page(f"/runs/{run}/lead"), "flags"))


def test_a_step_that_waits_for_its_second_person_stands_on_the_lead_board(site: Site) -> None:
    text = b"""
procedure: pin
title: Pin
crew: {EV1: {does: Left}, EV2: {does: Right}}
tasks:
  - {task: lock, title: Lock, who: EV1, steps: [{do: Lock the pin, takes: 5 min, confirm_by: EV2}]}
"""
    run = site.start(text)
    site.order(run, "mark", step="lock/1")
    board = part(site.page(f"/runs/{run}/lead"), "flags")
    assert "WAITS FOR EV2 EV1 , Lock the pin lock/1" in words(board)
    assert "EV2 must confirm it." in words(board)
    assert form_that(board, "confirm", step="lock/1", person="EV2")["heard"] == "1"
    site.order(run, "confirm", step="lock/1", person="EV2", heard="1", page="lead")
    assert site.states(run)["lock/1"] == "done"


def test_a_past_moment_shows_the_flags_of_then_and_has_nothing_to_press(site: Site) -> None:
    run = site.start()
    site.clock.at_s = 60
    site.order(run, "flag", reason="Smoke")
    site.clock.at_s = 120
    site.order(run, "clear-flag", flag="2", reason="steam")
    then = part(site.page(f"/runs/{run}/lead?at=0:01:30"), "flags")
    assert "Smoke" in words(then)
    assert "<form" not in then


def test_a_note_is_seen_at_its_step_and_its_person_and_late_ones_stand_in_order(site: Site) -> None:
    run = site.start()
    site.clock.at_s = 300
    site.order(run, "note", reason="The lid sticks", step="rig/1")
    site.order(run, "note", reason="It creaks", step="rig/1", at="0:02:00")
    site.order(run, "note", reason="Has cold hands", person="EV1")
    site.order(run, "note", reason="Fog comes in")
    for page in ("desk", "list/EV1"):
        shown = words(site.page(f"/runs/{run}/{page}"))
        creaks, sticks = "00:02:00 Ground support: It creaks", "00:05:00 Ground support: The lid sticks"
        assert shown.index(creaks) < shown.index(sticks)
        assert "00:05:00 Ground support: Has cold hands" in shown
        assert "Fog comes in" not in shown
    assert "Note on the run: Fog comes in" in words(site.page(f"/runs/{run}/log"))
    for number in range(4):
        site.order(run, "note", reason=f"more {number}", step="rig/1")
    shown = words(site.page(f"/runs/{run}/desk"))
    assert "more 3 and 3 older in the log" in shown
    assert "It creaks" not in shown


def test_the_desk_offers_the_steps_that_somebody_is_at_for_a_note_or_a_flag(site: Site) -> None:
    run = site.start()
    site.done(run, "rig/1")
    end = part(site.page(f"/runs/{run}/desk"), "desk-end")
    assert "Raise the mast (rig/2)" in words(end)
    assert "Open the box" not in words(end)
    assert {"note", "flag"} <= {each for each in ("note", "flag") if f'value="{each}"' in end}
    site.order(run, "flag", reason="The mast leans", step="rig/2", person="")
    assert last(site, run) == ("FlagRaised", {"text": "The mast leans", "step": "rig/2", "person": None})
