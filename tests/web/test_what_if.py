"""Putting off, taking and trying by the forms of the Lead board and by JSON: what is shown is what is logged."""

import re
from typing import Any

import pytest

from app.core.times import clock, duration, lead_words
from app.service import outlooks
from app.web.keys import new_key
from tests.web.site import HX, Site, forms, words
from tests.web.yard import YARD, figure, kinds, last, lead, part, press, rows, sent_by, tried

LOSES, OFF = "EV1 loses 5 min", "put off gate"
HOSTILE = '"><script>alert(1)</script><b>x'


@pytest.fixture
def run(site: Site, monkeypatch: pytest.MonkeyPatch) -> int:
    """A run whose every look ahead is fresh, however fast the test asks."""
    monkeypatch.setattr(outlooks, "REST", 0)
    return site.start(YARD)


@pytest.mark.parametrize("order", [
    {"do": "put-off-set", "tasks": [], "reason": "x"}, {"do": "put-off-set", "tasks": ["gate", "gate"], "reason": "x"},
    {"do": "put-off-set", "tasks": ["gate", "nothing"], "reason": "x"}, {"do": "put-off-set", "tasks": ["gate"]},
    {"do": "put-back-set", "tasks": ["nothing"], "reason": "x"}, {"do": "take-set", "tasks": []},
    {"do": "what-if", "changes": [], "reason": "x"}, {"do": "what-if", "changes": [OFF]},
    {"do": "what-if", "changes": [OFF] * 11, "reason": "x"}, {"do": "what-if", "changes": ["x" * 201], "reason": "x"},
    {"do": "what-if", "changes": ["blah"], "reason": "x"}, {"do": "what-if", "changes": [OFF, "blah"], "reason": "x"},
], ids=str)  # fmt: skip
def test_an_order_by_json_that_makes_no_sense_is_refused_and_logs_nothing(
    site: Site, run: int, order: dict[str, Any]
) -> None:
    answer = site.post(f"/api/runs/{run}/orders", json=order)
    assert answer.status_code == 422, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    assert kinds(site, run) == ["RunStarted"]


@pytest.mark.parametrize("order", [
    {"do": "put-off-set", "tasks": ["dig"], "reason": "x"}, {"do": "put-back-set", "tasks": ["gate"], "reason": "x"},
    {"do": "take-set", "tasks": ["fence", "rake"]}, {"do": "what-if", "changes": ["put off dig"], "reason": "x"},
    {"do": "what-if", "changes": [OFF, "put off gate"], "reason": "x"},
], ids=str)  # fmt: skip
def test_an_order_by_json_that_may_not_be_now_is_refused_and_logs_nothing(
    site: Site, run: int, order: dict[str, Any]
) -> None:
    assert site.post(f"/api/runs/{run}/orders", json=order).status_code == 409
    assert kinds(site, run) == ["RunStarted"]


# Trying, and doing it


def test_trying_shows_both_columns_and_logs_nothing(site: Site, run: int) -> None:
    page = site.page(lead(run, LOSES, OFF))
    core = site.shell.lookout.what_if(run, [LOSES, OFF])
    before, then, now, if_so = core.before, core.supposed.then, core.forecast_before, core.forecast_then
    assert now is not None
    assert if_so is not None
    assert before.room_s is not None
    assert then.room_s is not None
    spread = "half by {}, nine in ten by {}"
    assert rows(part(page, "what_if"))[1:] == [
        ["Team, against plan", lead_words(before.lead_s, 0), lead_words(then.lead_s, 0)],
        ["Finish", clock(before.projection.end_s), clock(then.projection.end_s)],
        ["Room before the limit", duration(before.room_s), duration(then.room_s)],
        ["Chance to finish in time", f"{now.team.chance} %", f"{if_so.team.chance} %"],
        [
            "Forecast",
            spread.format(clock(now.team.half_s), clock(now.team.nine_tenths_s)),
            spread.format(clock(if_so.team.half_s), clock(if_so.team.nine_tenths_s)),
        ],
        ["EV1", "on plan", lead_words(then.person("EV1").lead_s, 0)],
        ["EV2", "on plan", "on plan (same)"],
    ]
    assert tried(page) == [LOSES, OFF]
    assert kinds(site, run) == ["RunStarted"]
    assert figure(page, "chance") == f"{now.team.chance} %"


def test_a_figure_that_does_not_move_says_so_in_words(site: Site, run: int) -> None:
    found = {row[0]: row[1:] for row in rows(part(site.page(lead(run, "put off fence", "put back fence")), "what_if"))}
    assert found["Finish"] == ["00:48:00", "00:45:00"]
    same = {row[0]: row[2] for row in rows(part(site.page(lead(run, "saw/1 takes 26 min")), "what_if"))[1:]}
    assert same["Finish"] == "00:48:00 (same)"
    assert same["EV2"] == "1m behind"


def test_a_change_without_a_window_left_says_which_step_has_none(site: Site, run: int) -> None:
    found = rows(part(site.page(lead(run, "dig/1 takes 2 h")), "what_if"))
    assert ["No window left", "", "Paint"] in found


@pytest.mark.parametrize("hx", [False, True], ids=["plain", "htmx"])
def test_doing_it_logs_what_was_shown_and_the_tried_is_gone(site: Site, run: int, hx: bool) -> None:
    page = site.page(lead(run, LOSES, OFF))
    would = [words(row) for row in part(page, "what_if").split("<li>")[1:]]
    answer = press(site, run, sent_by(part(page, "what_if"), "what-if"), hx=hx, reason="stones", **{"if": [LOSES, OFF]})
    assert kinds(site, run) == ["RunStarted", "TakesRevised", "TasksPutOff"]
    log = words(site.page(f"/runs/{run}/log"))
    for shown, said in zip(would, ("Takes 25m, plan 20m: “Dig” (dig/1).", "Put off: “Hang the gate”."), strict=True):
        assert said in shown
        assert f"{said} stones" in log
    if hx:
        assert (answer.status_code, tried(answer.text)) == (200, [])
        assert 'id="lead-what_if"' in answer.text
    else:
        assert (answer.status_code, answer.headers["location"]) == (303, lead(run))


def test_what_a_person_loses_is_done_to_the_step_that_was_shown_though_they_have_moved_on(site: Site, run: int) -> None:
    fields = sent_by(part(site.page(lead(run, LOSES)), "what_if"), "what-if")
    site.clock.at_s = 20 * 60
    site.done(run, "dig/1")
    answer = press(site, run, fields, reason="stones")
    assert answer.status_code == 409
    assert kinds(site, run)[-1] == "StepMarked"


def test_what_a_person_loses_is_done_to_the_second_that_was_shown_though_time_has_passed(site: Site, run: int) -> None:
    site.clock.at_s = 22 * 60
    page = part(site.page(lead(run, LOSES)), "what_if")
    assert "Takes 27m, plan 20m" in words(page)
    site.clock.at_s += 9
    assert press(site, run, sent_by(page, "what-if"), reason="stones").status_code == 303
    assert last(site, run) == {"step": "dig/1", "takes_s": 27 * 60, "reason": "stones"}


@pytest.mark.parametrize("hx", [False, True], ids=["plain", "htmx"])
def test_a_refusal_keeps_what_is_tried(site: Site, run: int, hx: bool) -> None:
    said = [OFF, "saw/1 takes 30 min"]
    fields = sent_by(part(site.page(lead(run, *said)), "what_if"), "what-if")
    have = {"if": said} if hx else {}  # Without script the hidden fields of the page are not sent with a form.
    answer = press(site, run, fields, hx=hx, reason="  ", **have)
    assert answer.status_code == 422
    assert "Say why this is done." in words(answer.text)
    assert "saw/1 takes" in tried(answer.text)[1]
    assert [row[0] for row in rows(part(answer.text, "what_if"))][1:3] == ["Team, against plan", "Finish"]
    assert kinds(site, run) == ["RunStarted"]


def test_another_order_of_the_board_keeps_what_is_tried(site: Site, run: int) -> None:
    page = site.page(lead(run, OFF))
    answer = press(site, run, sent_by(part(page, "offers"), "take"), hx=True, **{"if": [OFF]})
    assert answer.status_code == 200
    assert 'id="lead-offers"' in answer.text
    following = site.get(lead(run, OFF), headers=HX)
    assert tried(following.text) == [OFF]


def test_a_change_that_is_done_already_by_another_is_said_and_the_rest_of_the_board_stands(
    site: Site, run: int
) -> None:
    site.order(run, "put-off", task="gate", reason="rain")
    answer = site.get(lead(run, OFF))
    assert answer.status_code == 200
    assert "Can't be tried. “Hang the gate” was put off already." in words(part(answer.text, "what_if"))
    assert figure(answer.text, "finish") == "00:45:00"
    assert "what-if" not in [each.get("do") for each in forms(answer.text)]


@pytest.mark.parametrize(("change", "said"), [
    ("blah", "“blah” is no change that can be tried"), ("EV9 loses 5 min", "There is no person “EV9”"),
    ("EV1 loses 5", "does not say its unit"), ("put off dig", "may not be put off"),
    ("take stack of hay", "There is no task"), ("x" * 201, "200 characters at most"),
    ("swap gate and fence of EV1", "waits for"), ("put back gate", "was not put off"),
])  # fmt: skip
def test_a_change_that_cannot_be_tried_says_why_and_stands_ready_to_be_corrected(
    site: Site, run: int, change: str, said: str
) -> None:
    answer = site.get(lead(run, OFF.replace("gate", "paint"), change))
    assert answer.status_code == 200
    shown = part(answer.text, "what_if")
    assert said in words(shown)
    assert (forms(shown)[-1]["method"], forms(shown)[-1]["if"]) == ("get", change)
    assert '<input type="hidden" name="if" value="put off paint">' in shown
    assert rows(shown) == []
    assert kinds(site, run) == ["RunStarted"]


def test_every_example_on_the_board_can_be_tried(site: Site, run: int) -> None:
    for at_s, steps in ((0, ()), (25 * 60, ("dig", "fence")), (40 * 60, ("saw", "gate"))):
        site.clock.at_s = at_s
        site.done(run, *[f"{step}/1" for step in steps])
        examples = re.findall(r'<a href="([^"]*\?if=[^"]*)">', part(site.page(lead(run)), "what_if"))
        assert examples
        for address in examples:
            shown = part(site.page(address), "what_if")
            assert "Can't be tried" not in shown, address
            assert rows(shown), address


def test_eleven_changes_are_too_many_and_none_of_them_is_lost(site: Site, run: int) -> None:
    said = [f"saw/1 takes {minutes} min" for minutes in range(20, 31)]
    shown = part(site.page(lead(run, *said)), "what_if")
    assert "At most 10 changes at once." in words(shown)
    assert tried(shown) == said


def test_empty_changes_are_none(site: Site, run: int) -> None:
    page = site.page(f"/runs/{run}/lead?if=&if=+")
    assert tried(page) == []
    assert "Can't be tried" not in page


def test_each_change_can_be_left_out_and_the_others_stay(site: Site, run: int) -> None:
    said = [OFF, "saw/1 takes 30 min", "put off paint"]
    shown = part(site.page(lead(run, *said)), "what_if")
    without = [row.split("Without this one")[0] for row in shown.split("<li>")[1:]]
    for place, row in enumerate(without):
        left = [text for other, text in enumerate(said) if other != place]
        assert [text for text in said if f'name="if" value="{text}"' in row] == left


@pytest.mark.parametrize("change", [HOSTILE, "put off " + HOSTILE, f"EV1 loses {HOSTILE}"])
def test_the_text_of_a_change_is_shown_as_text(site: Site, run: int, change: str) -> None:
    page = site.request("GET", f"/runs/{run}/lead", params={"if": change}).text
    assert "<script>alert" not in page
    assert "<b>x" not in page
    assert tried(page) == [change]


def test_the_same_key_twice_is_one_press_even_when_the_run_has_moved_on(site: Site, run: int) -> None:
    fields = sent_by(part(site.page(lead(run, LOSES, OFF)), "what_if"), "what-if")
    assert press(site, run, fields, reason="stones").status_code == 303
    site.clock.at_s += 21 * 60
    site.done(run, "dig/1")
    before = kinds(site, run)
    assert press(site, run, fields, reason="stones").status_code == 303
    assert press(site, run, fields, hx=True, reason="stones").status_code == 200
    assert kinds(site, run) == before


def test_by_json_the_changes_are_made_as_they_were_tried(site: Site, run: int) -> None:
    shown = site.request("GET", f"/api/runs/{run}/what-if", params={"if": [LOSES, OFF]}).json()
    sent = {"do": "what-if", "changes": [LOSES, OFF], "reason": "stones", "key": new_key()}
    first, again = (site.post(f"/api/runs/{run}/orders", json=sent).json() for _ in range(2))
    assert [each["kind"] for each in first["events"]] == ["TakesRevised", "TasksPutOff"]
    assert (again["repeated"], again["events"]) == (True, first["events"])
    after = site.json(f"/api/runs/{run}")
    for name in ("lead_s", "projected_finish_s", "room_s", "crew"):
        assert after[name] == shown["then"][name], name
    assert site.json(f"/api/runs/{run}/outlook")["forecast"] == shown["then"]["forecast"]


def test_at_a_past_moment_it_is_tried_there_and_cannot_be_done(site: Site, run: int) -> None:
    site.clock.at_s = 25 * 60
    site.done(run, "dig/1", "saw/1")
    site.order(run, "put-off", task="gate", reason="rain")
    shown = part(site.page(lead(run, OFF, at="0:10:00")), "what_if")
    assert {row[0]: row[1:] for row in rows(shown)}["Finish"] == ["00:48:00", "00:45:00"]
    found = forms(shown)
    assert [each["method"] for each in found] == ["get"] * len(found)
    assert all(each["at"] == "600" for each in found)
    assert f'href="/runs/{run}/lead?at=600"' in shown
