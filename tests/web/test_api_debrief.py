"""The JSON of a debrief and of a comparison has exactly its keys, and says what the core says."""

from typing import Any

from tests.web.finished import finished
from tests.web.site import Site

DEBRIEF = {
    *("at_s", "ended", "end_reason", "plan_finish_s", "limit_s", "limit_words", "at_end", "steps", "tasks", "people"),
    *("lead", "points", "holds", "polls", "work", "carried", "rounds", "gauges", "tools", "decisions", "remarks"),
}
KEYS = {
    "at_end": {"lead_s", "finish_s", "room_s"},
    "steps": {
        *("id", "task", "task_title", "do", "who", "plan_start_s", "plan_finish_s", "takes_s", "start_s", "finish_s"),
        *("start_known", "state", "by", "took_s", "finish_shift_s"),
    },
    "tasks": {
        *("id", "title", "who", "plan_start_s", "plan_finish_s", "start_s", "finish_s", "done", "of", "state"),
        "finish_shift_s",
    },
    "people": {
        *("designator", "plan_start_s", "plan_finish_s", "plan_work_s", "start_s", "finish_s", "worked_s", "waited_s"),
        *("done", "of", "lead_s"),
    },
    "points": {"at_s", "team_s", "people"},
    "holds": {"step", "do", "who", "reached_s", "done_s", "waited_s", "waits", "answers", "after_s"},
    "work": {"task", "title", "who", "get_ahead", "turns", "start_s", "finish_s", "offered", "looked", "fate"},
    "carried": {"task", "title", "steps", "why"},
    "decisions": {"seq", "at_s", "logged_s", "by", "words", "before", "after"},
    "remarks": {"at_s", "seq", "by", "words", "step", "person"},
}
MOVE = {"how", "from_s", "to_s", "lead_s", "step", "seq", "times", "words"}
COMPARE = {"runs", "steps", "people", "unmatched", "finish", "lead"}
RUN = {"run", "revision", "kind", "ended", "at_s", "plan_finish_s", "finish_s", "lead_s"}
STEP = {"id", "task", "task_title", "do", "who", "cells", "finish", "took", "shift"}
CELL = {"plan_finish_s", "finish_s", "took_s", "shift_s", "since_first_s", "state"}
SPREAD = {"n", "least_s", "median_s", "most_s"}


def first(value: Any) -> Any:
    return value[0] if isinstance(value, list) else value


def test_the_keys_of_a_debrief_are_fixed(site: Site) -> None:
    found = site.json(f"/api/runs/{finished(site, slow_s=60)}/debrief")
    assert set(found) == DEBRIEF
    for name, keys in KEYS.items():
        assert set(first(found[name])) == keys, name
    assert set(found["lead"]) == {"team", "people"}
    assert set(found["lead"]["people"]) == set(found["points"][0]["people"]) == {"EV1", "EV2"}
    assert set(found["lead"]["team"][0]) == MOVE
    assert set(found["decisions"][0]["before"]) == KEYS["at_end"]


def test_the_debrief_says_what_the_run_s_own_state_says(site: Site) -> None:
    run = finished(site, slow_s=60)
    found, state = site.json(f"/api/runs/{run}/debrief"), site.json(f"/api/runs/{run}")
    assert found["at_end"]["lead_s"] == state["lead_s"]
    assert found["at_end"]["finish_s"] == state["projected_finish_s"]
    assert {step["id"]: step["finish_s"] for step in found["steps"] if step["state"] == "done"} == {
        step["id"]: step["finish_s"] for step in state["steps"] if step["state"] == "done"
    }
    assert site.get(f"/api/runs/{run}/debrief").headers["X-Leadline-Head"] == state["head"]


def test_the_keys_of_a_comparison_are_fixed(site: Site) -> None:
    one, two = finished(site), finished(site, slow_s=60)
    found = site.json(f"/api/compare?run={one}&run={two}")
    assert set(found) == COMPARE
    assert set(found["runs"][0]) == RUN
    assert set(found["steps"][0]) == STEP
    assert set(found["steps"][0]["cells"][0]) == CELL
    assert set(found["steps"][0]["took"]) == SPREAD
    assert set(found["people"][0]) == {"designator", "cells", "finish", "worked", "waited", "lead"}
    assert set(found["people"][0]["cells"][0]) == KEYS["people"]
    assert [each["run"] for each in found["runs"]] == [one, two]


def test_a_comparison_that_can_t_be_is_refused(site: Site) -> None:
    run = finished(site)
    assert site.get(f"/api/compare?run={run}").status_code == 422
    assert site.get(f"/api/compare?run={run}&run={run}").status_code == 409
    assert site.get(f"/api/compare?run={run}&run=99").status_code == 404
    assert site.get("/api/compare").status_code == 422
