"""What others' steps ask of a person stands on that person's own list."""

import re

from tests.web.site import Site, forms, words
from tests.web.test_band import press, rig


def asked(site: Site, run: int, person: str) -> str:
    found = re.search(r'<section id="list-asks".*?</section>', site.page(f"/runs/{run}/list/{person}"), re.S)
    assert found is not None
    return found[0]


def _called(site: Site) -> int:
    run = rig(site)
    site.done(run, "wire/1")
    press(site, run, "mark", "wire/2")
    return run


def test_a_list_that_nobody_waits_for_shows_nothing(site: Site) -> None:
    run = rig(site)
    assert words(asked(site, run, "CHI")) == ""
    assert 'class="panel asks nothing"' in asked(site, run, "CHI")


def test_the_second_person_is_asked_on_their_own_list_and_confirms_there(site: Site) -> None:
    run = _called(site)
    text = asked(site, run, "CHI")
    assert "BEN Check each clamp Called complete at 00:10:00 by" in words(text)
    form = forms(text)[0]
    assert (form["do"], form["step"], form["person"]) == ("confirm", "wire/2", "CHI")
    assert "heard" not in form
    assert site.post(form.pop("action"), data=form).headers["location"] == f"/runs/{run}/list/CHI"
    assert site.states(run)["wire/2"] == "done"
    assert site.json(f"/api/runs/{run}/events")[-2]["body"]["heard"] is False
    assert words(asked(site, run, "CHI")) == ""


def test_a_confirmation_is_asked_of_nobody_else_and_not_before_the_call(site: Site) -> None:
    run = rig(site)
    site.done(run, "wire/1")
    assert "I confirm" not in asked(site, run, "CHI")
    press(site, run, "mark", "wire/2")
    assert "I confirm" not in asked(site, run, "ANA")
    assert "I confirm" not in asked(site, run, "BEN")


def test_a_confirmation_heard_late_is_entered_at_its_time(site: Site) -> None:
    run = _called(site)
    site.clock.at_s = 900
    assert press(site, run, "confirm", "wire/2", person="CHI", at="0:12:00", page="list/CHI") == 303
    assert site.json(f"/api/runs/{run}/events")[-1]["at_s"] == 720
    assert press(site, run, "confirm", "wire/2", person="CHI") == 409


def test_a_hold_on_anothers_list_asks_for_ones_own_go_and_takes_a_no_go(site: Site) -> None:
    run = rig(site)
    assert "Say whether the drum is free Go needed from BEN: no answer yet." in words(asked(site, run, "BEN"))
    assert [form["do"] for form in forms(asked(site, run, "BEN"))] == ["go", "no-go"]
    press(site, run, "no-go", "watch/1", person="BEN", reason="it scrapes", page="list/BEN")
    text = words(asked(site, run, "BEN"))
    assert "You are NO-GO 00:10:00: it scrapes" in text
    assert "What lifts it" in text
    press(site, run, "go", "watch/1", person="BEN", reason="shimmed", page="list/BEN")
    assert "drum" not in asked(site, run, "BEN")


def test_a_value_out_of_tolerance_is_read_to_the_second_person(site: Site) -> None:
    run = site.start(SECOND)
    press(site, run, "mark", "set/1", value__gap="9")
    assert "gap 9 mm (OUT OF TOLERANCE)" in words(asked(site, run, "EV2"))


SECOND = b"""\
procedure: second
title: A second look
crew: {EV1: {does: Left}, EV2: {does: Right}}
tasks:
  - {task: set, title: Set it, who: EV1,
     steps: [{do: Set the gap, takes: 5 min, confirm_by: EV2, record: {gap: {unit: mm, from: 2, to: 6}}}]}
"""
