"""Polls on Desk, Lead board, My list and the bar; holds with since when; each answer by a plain form."""

import pytest

from tests.web.site import HX, Site, forms, words

POWER = "Go for power?"


def part(page: str, name: str) -> str:
    """One part of a page, to the beginning of the next."""
    _, begun, rest = page.partition(f'id="{name}"')
    assert begun, name
    return rest.split('name="have"')[0]


def form_that(page: str, do: str, **fields: str) -> dict[str, str]:
    """The form that gives this order with these fields."""
    found = [each for each in forms(page) if each.get("do") == do and fields.items() <= each.items()]
    assert found, (do, fields)
    return found[0]


def polled(site: Site) -> int:
    """A run in which ground support has asked both."""
    run = site.start()
    site.clock.at_s = 60
    assert site.order(run, "poll", text=POWER).status_code == 303
    return run


def last(site: Site, run: int) -> tuple[str, dict[str, object]]:
    event = site.json(f"/api/runs/{run}/events")[-1]
    return event["kind"], event["body"]


@pytest.mark.parametrize("page", ["desk", "lead"])
def test_a_poll_is_called_from_desk_and_lead_board_and_asks_everybody_unless_told_otherwise(
    site: Site, page: str
) -> None:
    run = site.start()
    form = form_that(part(site.page(f"/runs/{run}/{page}"), "polls"), "poll")
    assert form["who"] == "EV2"
    fields = {"do": "poll", "page": page, "text": POWER, "who": ["EV2"]}
    assert site.post(f"/runs/{run}/orders", data=fields).headers["location"] == f"/runs/{run}/{page}"
    assert last(site, run) == ("PollCalled", {"poll": "poll-1", "question": POWER, "who": ["EV2"]})
    site.order(run, "poll", text="And again?")
    assert last(site, run)[1]["who"] == ["EV1", "EV2"]
    assert "Say what is asked" in words(site.order(run, "poll", text=" ").text)


@pytest.mark.parametrize("page", ["desk", "lead", "list/EV1", "log", "handover", "plan"])
def test_an_open_poll_stands_in_the_bar_of_every_page_until_it_is_closed(site: Site, page: str) -> None:
    run = polled(site)
    address = f"/runs/{run}/{page}"
    assert f"POLL {POWER} waiting for EV1 and EV2" in words(part(site.page(address), "bar"))
    site.order(run, "poll-no-go", poll="poll-1", person="EV1", reason="smoke")
    assert f"POLL {POWER} waiting for EV2; EV1 is NO-GO" in words(part(site.page(address), "bar"))
    site.order(run, "close-poll", poll="poll-1", reason="asked again later")
    assert "POLL" not in words(part(site.page(address), "bar"))


def test_at_the_desk_answers_are_heard_and_at_an_own_console_they_are_not(site: Site) -> None:
    run = polled(site)
    desk = part(site.page(f"/runs/{run}/desk"), "polls")
    heard = form_that(desk, "poll-no-go", poll="poll-1")["heard"]
    site.order(run, "poll-go:EV1", poll="poll-1", heard=heard)
    assert last(site, run)[1]["heard"] is True
    own = part(site.page(f"/runs/{run}/list/EV2"), "polls")
    assert "I am go" in words(own)
    assert "heard" not in form_that(own, "poll-no-go", poll="poll-1", person="EV2")
    site.order(run, "poll-no-go", poll="poll-1", person="EV2", page="list/EV2", reason="a leak")
    assert last(site, run)[1]["heard"] is False


def test_my_list_shows_only_the_polls_that_ask_this_person_and_lets_nobody_else_answer_there(site: Site) -> None:
    run = site.start()
    site.order(run, "poll", text="Warm, EV2?", who="EV2")
    assert "Warm, EV2?" not in words(part(site.page(f"/runs/{run}/list/EV1"), "polls"))
    asked = part(site.page(f"/runs/{run}/list/EV2"), "polls")
    assert "Warm, EV2?" in words(asked)
    assert "Call a poll" not in words(asked)
    assert "Close the poll" not in words(asked)


def test_a_no_go_shows_on_both_boards_with_who_said_it_and_is_lifted_with_a_reason(site: Site) -> None:
    run = polled(site)
    site.order(run, "poll-no-go", poll="poll-1", person="EV1", page="list/EV1", reason="smoke")
    for page in ("desk", "lead"):
        shown = words(part(site.page(f"/runs/{run}/{page}"), "polls"))
        assert "EV1: NO-GO 00:01:00: smoke, own console, signed Ground support" in shown
        assert "What lifts the no-go of EV1" in shown
    refused = site.order(run, "poll-go", poll="poll-1", person="EV1", reason="")
    assert refused.status_code in {409, 422}
    assert "EV1 is no-go: smoke. Say what lifts it" in words(refused.text)
    site.order(run, "poll-go", poll="poll-1", person="EV1", reason="it was steam")
    site.order(run, "poll-go", poll="poll-1", person="EV2")
    assert last(site, run) == ("PollClosed", {"poll": "poll-1", "reason": "all are go"})
    for page in ("desk", "lead"):
        shown = words(part(site.page(f"/runs/{run}/{page}"), "polls"))
        assert f"Last poll, closed 00:01:00: {POWER} all are go" in shown


def test_an_answer_is_entered_late_by_its_form(site: Site) -> None:
    run = polled(site)
    site.clock.at_s = 300
    site.order(run, "poll-go:EV1", poll="poll-1", at="-2m")
    event = site.json(f"/api/runs/{run}/events")[-1]
    assert (event["at_s"], event["logged_s"]) == (180, 300)
    assert "asked only at 00:01:00" in words(site.order(run, "poll-go:EV2", poll="poll-1", at="0:00:59").text)


def test_two_polls_are_open_at_once_and_each_takes_its_own_answers(site: Site) -> None:
    run = polled(site)
    site.order(run, "poll", text="Everybody warm?")
    site.order(run, "poll-go", poll="poll-2", person="EV1")
    shown = words(part(site.page(f"/runs/{run}/lead"), "polls"))
    assert shown.index(POWER) < shown.index("Everybody warm?")
    bar = words(part(site.page(f"/runs/{run}/desk"), "bar"))
    assert f"{POWER} waiting for EV1 and EV2" in bar
    assert "Everybody warm? waiting for EV2" in bar


def test_a_hold_that_waits_says_since_when_and_for_whom_on_desk_and_lead_board(site: Site) -> None:
    run = site.start()
    assert "No hold waits now." in words(part(site.page(f"/runs/{run}/desk"), "polls"))
    site.clock.at_s = 900
    site.done(run, "rig/1", "rig/2")
    site.clock.at_s = 1_500
    site.done(run, "wire/1")
    site.clock.at_s = 1_560
    site.order(run, "no-go", step="wire/2", person="EV2", page="list/EV2", reason="it flickers")
    desk = words(part(site.page(f"/runs/{run}/desk"), "polls"))
    assert "HOLD EV2: Is the lamp lit?, waits since 00:25:00 ; asked since then: EV1" in desk
    assert "EV2 NO-GO 00:26:00: it flickers" in desk
    lead = words(part(site.page(f"/runs/{run}/lead"), "lead-waits"))
    assert "waiting now, since 00:25:00" in lead
    assert "EV1: no answer yet, asked since 00:25:00" in lead
    assert "EV2: NO-GO 00:26:00: it flickers" in lead
    site.order(run, "go", step="wire/2", person="EV1", heard="1")
    lead = words(part(site.page(f"/runs/{run}/lead"), "lead-waits"))
    assert "EV1: go 00:26:00, heard on the loop" in lead


def test_a_past_moment_shows_the_poll_as_it_stood_and_has_nothing_to_press(site: Site) -> None:
    run = polled(site)
    site.clock.at_s = 120
    site.order(run, "poll-go", poll="poll-1", person="EV1")
    site.order(run, "poll-go", poll="poll-1", person="EV2")
    then = part(site.page(f"/runs/{run}/desk?at=0:01:30"), "polls")
    assert "EV1: no answer yet" in words(then)
    assert "<form" not in then
    assert "POLL" not in words(part(site.page(f"/runs/{run}/desk?at=0:00:59"), "bar"))


def test_htmx_gets_the_polls_and_the_bar_and_an_ended_run_takes_no_answer(site: Site) -> None:
    run = site.start()
    answer = site.order(run, "poll", hx=True, text=POWER)
    assert answer.status_code == 200
    assert POWER in words(part(answer.text, "polls"))
    assert POWER in words(part(answer.text, "bar"))
    site.order(run, "end", reason="in")
    assert site.post(
        f"/runs/{run}/orders", data={"do": "poll-go", "poll": "poll-1", "person": "EV1"}, headers=HX
    ).status_code in {409, 422}
    assert "<form" not in part(site.page(f"/runs/{run}/lead"), "polls")


def test_the_api_calls_answers_and_closes_a_poll(site: Site) -> None:
    run = site.start()
    for order in (
        {"do": "poll", "text": POWER, "who": ["EV1", "EV2"]},
        {"do": "poll-go", "poll": "poll-1", "person": "EV2", "heard": True},
        {"do": "close-poll", "poll": "poll-1", "reason": "EV1 has no voice"},
    ):
        answer = site.post(f"/api/runs/{run}/orders", json=order)
        assert answer.status_code == 200, answer.text
    assert last(site, run) == ("PollClosed", {"poll": "poll-1", "reason": "EV1 has no voice"})
