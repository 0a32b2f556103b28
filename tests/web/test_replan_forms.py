"""Replanning by the forms of the Lead board and by JSON: what is sent, what is shown, what is refused in words."""

from typing import Any

import httpx
import pytest

from tests.web.site import Site, forms, words

YARD = b"""\
procedure: yard
title: Yard work
crew: {EV1: {does: Left}, EV2: {does: Right}}
on_plan_within: 0 s
limits: {finish: 2:00, close_out: home}
tasks:
  - {task: dig, title: Dig, who: EV1, steps: [{do: Dig the hole, takes: 10 min}]}
  - {task: post, title: Post, who: EV1, after: [dig], steps: [{do: Set the post, takes: 10 min}]}
  - {task: rake, title: Rake, who: EV1, steps: [{do: Rake the leaves, takes: 5 min}]}
  - {task: burn, title: Burn, who: EV1, after: [rake], steps: [{do: Burn the leaves, takes: 5 min}]}
  - {task: saw, title: Saw, who: EV2, steps: [{do: Saw the plank, takes: 30 min}]}
  - {task: home, title: Home, who: [EV1, EV2], steps: [{do: Shut the gate, takes: 5 min}]}
"""
"""EV1: dig, post, rake, burn, home. Plan finish 0:35."""

ADD = {"text": "Look at the post", "who": "EV1", "takes": "10 min", "reason": "it leans"}


def add(site: Site, run: int, **changed: str) -> httpx.Response:
    return site.post(f"/runs/{run}/orders", data={"do": "add-step", "page": "lead", **ADD, **changed})


def last(site: Site, run: int) -> dict[str, Any]:
    found: dict[str, Any] = site.json(f"/api/runs/{run}/events")[-1]
    return found


def part(page: str) -> str:
    return page.split('id="lead-replan"')[1].split("</section>")[0]


def numbers(page: str, person: str) -> dict[str, str]:
    """The form of one person's order of work, as it stands on the page."""
    (found,) = [form for form in forms(part(page)) if form.get("person") == person]
    return found


def test_the_panel_lists_each_persons_unbegun_work_and_leaves_close_out_last(site: Site) -> None:
    run = site.start(YARD)
    page = site.page(f"/runs/{run}/lead")
    asked = numbers(page, "EV1")
    assert [name for name in asked if name.startswith("order:")] == ["order:post", "order:rake", "order:burn"]
    assert [asked[f"order:{task}"] for task in ("post", "rake", "burn")] == ["2", "3", "4"]
    assert "Home: close-out stays last" in words(part(page))
    assert "EV2" not in [form.get("person") for form in forms(part(page))]


def test_the_numbers_written_beside_the_tasks_are_their_new_order(site: Site) -> None:
    run = site.start(YARD)
    sent = numbers(site.page(f"/runs/{run}/lead"), "EV1") | {"order:rake": "1,5", "reason": "wind"}
    answer = site.post(f"/runs/{run}/orders", data=sent)
    assert (answer.status_code, answer.headers["location"]) == (303, f"/runs/{run}/lead")
    assert last(site, run)["body"] == {"person": "EV1", "tasks": ["rake", "post", "burn"], "reason": "wind"}
    page = site.page(f"/runs/{run}/lead")
    assert [name for name in numbers(page, "EV1") if name.startswith("order:")] == [
        "order:rake", "order:post", "order:burn"
    ]  # fmt: skip
    assert "New order for EV1: “Rake”, “Post”, “Burn”. wind" in words(site.page(f"/runs/{run}/log"))


@pytest.mark.parametrize(
    ("changed", "status", "said"),
    [
        ({"order:rake": "4"}, 409, "both have the number 4"),
        ({"order:rake": "first"}, 422, "needs a number, not “first”"),
        ({"order:rake": ""}, 422, "needs a number"),
        ({}, 409, "in this order already"),
        ({"order:burn": "1"}, 409, "waits for “Rake the leaves” (rake/1)"),
        ({"order:burn": "1", "order:rake": "0", "reason": " "}, 422, "Say why EV1 works in another order"),
        ({"order:saw": "1"}, 422, "EV1 has no task saw"),
        ({"order:home": "1"}, 409, "stays where it is"),
    ],
)
def test_an_order_that_cannot_be_is_refused_on_the_page(
    site: Site, changed: dict[str, str], status: int, said: str
) -> None:
    run = site.start(YARD)
    sent = numbers(site.page(f"/runs/{run}/lead"), "EV1") | {"reason": "wind"} | changed
    answer = site.post(f"/runs/{run}/orders", data=sent)
    assert answer.status_code == status
    assert said in words(answer.text)
    assert last(site, run)["kind"] == "RunStarted"


def test_a_step_is_added_and_shown_with_its_tag_on_every_page(site: Site) -> None:
    run = site.start(YARD)
    form = ADD | {"do": "add-step", "page": "lead", "who": ["EV1", "EV2"], "before": "home", "after": "saw"}
    assert site.post(f"/runs/{run}/orders", data=form).status_code == 303
    event = last(site, run)
    assert event["kind"] == "StepAdded"
    assert event["body"]["after"] == [["saw", None]]
    assert event["body"]["places"] == [["EV1", "home"], ["EV2", "home"]]
    assert "Added: EV1 and EV2, Look at the post (added-1/1)" in words(site.page(f"/runs/{run}/lead"))
    for page in ("desk", "list/EV2"):
        assert "Look at the post <span" in site.page(f"/runs/{run}/{page}")
        assert '<span class="tag">added</span>' in site.page(f"/runs/{run}/{page}")
    assert "Look at the post" not in words(site.page(f"/runs/{run}/plan"))
    assert site.json(f"/api/runs/{run}")["lead_s"] == -10 * 60
    site.done(run, "saw/1", "added-1/1")
    site.order(run, "end", reason="rain")
    carried = site.page(f"/runs/{run}/log").split('<details id="carried"')[1].split("</details>")[0]
    assert "Dig the hole" in carried
    assert "Look at the post" not in carried


def test_an_added_step_that_is_left_carries_over(site: Site) -> None:
    run = site.start(YARD)
    add(site, run)
    site.order(run, "end", reason="rain")
    log = words(site.page(f"/runs/{run}/log"))
    assert "Look at the post · not begun" in log


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"text": ""}, "needs a line that says what to do"),
        ({"who": ""}, "called ."),
        ({"takes": ""}, "needs a time that it takes"),
        ({"takes": "10"}, "does not say its unit"),
        ({"takes": "0 min"}, "at least 1s"),
        ({"after": "well"}, "no task well"),
        ({"before": "saw"}, "EV1 has no open task saw"),
        ({"reason": ""}, "Say why the step is added"),
    ],
)
def test_a_step_that_cannot_be_added_is_refused_on_the_page(site: Site, changed: dict[str, str], said: str) -> None:
    run = site.start(YARD)
    answer = add(site, run, **changed)
    assert answer.status_code in {409, 422}
    assert said in words(answer.text)
    assert last(site, run)["kind"] == "RunStarted"


def test_a_revised_duration_is_shown_beside_the_planned_one(site: Site) -> None:
    run = site.start(YARD)
    assert site.order(run, "revise", step="dig/1", takes="40 min", reason="rock").status_code == 303
    assert last(site, run)["body"] == {"step": "dig/1", "takes_s": 2400, "reason": "rock"}
    assert "takes 40m, plan 10m" in words(site.page(f"/runs/{run}/desk"))
    assert "0s of 40m" in words(site.page(f"/runs/{run}/desk"))
    assert "40m, plan 10m" in words(site.page(f"/runs/{run}/list/EV1"))
    assert "Dig the hole (dig/1) takes 40m, plan 10m" in words(site.page(f"/runs/{run}/lead"))
    site.order(run, "revise", step="home/1", takes="20 min", reason="ice")
    assert "takes 20m, plan 5m" in words(site.page(f"/runs/{run}/desk"))
    add(site, run)
    site.order(run, "revise", step="added-1/1", takes="1 min", reason="quick")
    assert "1m, was 10m" in words(site.page(f"/runs/{run}/list/EV1"))


def test_two_tasks_are_swapped_by_form(site: Site) -> None:
    run = site.start(YARD)
    assert site.order(run, "swap", person="EV1", task="rake", other="post", reason="wind").status_code == 303
    assert last(site, run)["body"]["tasks"] == ["rake", "post"]
    assert "needs a second task" in words(site.order(run, "swap", person="EV1", task="rake", reason="wind").text)


def test_the_same_is_ordered_by_json(site: Site) -> None:
    run = site.start(YARD)

    def order(**sent: object) -> dict[str, Any]:
        answer = site.post(f"/api/runs/{run}/orders", json={"reason": "so", **sent})
        assert answer.status_code == 200, answer.text
        (event,) = answer.json()["events"]
        return dict(event["body"])

    assert order(do="revise", step="dig/1", takes=900)["takes_s"] == 900
    assert order(do="revise", step="dig/1", takes="8 min")["takes_s"] == 480
    assert order(do="reorder", person="EV1", tasks=["rake", "post"])["tasks"] == ["rake", "post"]
    assert order(do="swap", person="EV1", task="post", other="rake")["tasks"] == ["post", "rake"]
    added = order(do="add-step", text="Look", who=["EV1"], takes=60, before="home", after=["saw", "dig/1"])
    assert added["after"] == [["saw", None], ["dig", 1]]


@pytest.mark.parametrize(
    "sent",
    [
        {"do": "revise", "step": "dig/1", "takes": 1.5},
        {"do": "revise", "step": "dig/1", "takes": True},
        {"do": "reorder", "person": "EV1", "tasks": "rake"},
        {"do": "add-step", "text": "Look", "who": [""], "takes": 60},
        {"do": "add-step", "text": "x" * 2001, "who": ["EV1"], "takes": 60},
    ],
)
def test_json_of_another_shape_is_refused(site: Site, sent: dict[str, object]) -> None:
    run = site.start(YARD)
    assert site.post(f"/api/runs/{run}/orders", json={"reason": "so", **sent}).status_code == 422


def test_what_json_leaves_out_is_named(site: Site) -> None:
    run = site.start(YARD)
    for sent, said in (
        ({"do": "revise", "step": "dig/1"}, "time that it takes"),
        ({"do": "reorder", "person": "EV1"}, "row of tasks"),
        ({"do": "add-step", "text": "Look", "takes": 60}, "needs a person"),
        ({"do": "revise", "step": "dig/1", "takes": 0, "reason": ""}, "Say why"),
    ):
        answer = site.post(f"/api/runs/{run}/orders", json=sent)
        assert answer.status_code == 422
        assert said in answer.json()["detail"]


def test_nothing_can_be_replanned_in_the_past_or_after_the_end(site: Site) -> None:
    run = site.start(YARD)
    site.clock.at_s = 60
    add(site, run)
    assert "<form" not in part(site.page(f"/runs/{run}/lead?at=30"))
    assert "Nothing was replanned" in part(site.page(f"/runs/{run}/lead?at=30"))
    site.order(run, "end", reason="rain")
    panel = part(site.page(f"/runs/{run}/lead"))
    assert "<form" not in panel
    assert "Look at the post" in panel


def test_an_order_that_is_not_kept_is_said_on_the_lead_board(site: Site) -> None:
    run = site.start(
        b"""\
procedure: knot
title: Knot
crew: {EV1: {}, EV2: {}}
tasks:
  - {task: first, title: First, who: EV2, steps: [{do: Begin, takes: 9 min}]}
  - {task: x, title: X, who: EV2, steps: [{do: Do x, takes: 9 min}]}
  - {task: b, title: B, who: EV1, after: [x], steps: [{do: Do b, takes: 9 min}]}
  - {task: y, title: Y, who: EV2, after: [b], steps: [{do: Do y, takes: 9 min}]}
"""
    )
    site.order(run, "mark", step="b/1", ordered_because="it was there")
    assert site.order(run, "swap", person="EV2", task="x", other="y", reason="wish").status_code == 303
    assert "Order not kept" not in site.page(f"/runs/{run}/lead")
    site.order(run, "reopen", step="b/1", reason="slip")
    assert "Order not kept. EV2's new order (“Y”, “X”) can't be kept" in words(site.page(f"/runs/{run}/lead"))
