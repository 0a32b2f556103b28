"""The API: every endpoint, its fixed shapes, and one effect per key."""

import pytest

from app.core.times import read_instant
from app.web.keys import new_key
from tests.service.making import SAMPLES, SMALL
from tests.web.site import Site

YAML = {"content-type": "application/yaml"}
SITUATION = {"at_s", "plan_finish_s", "projected_finish_s", "lead_s", "crew", "steps", "get_ahead"}
RUN = {"run", "kind", "revision", "procedure", "title", "zero_utc", "ended_s", "imported"}


def test_a_procedure_is_posted_once_and_listed(site: Site) -> None:
    first = site.post("/api/procedures", content=SMALL, headers=YAML, params={"source": "mast.yaml"})
    again = site.post("/api/procedures", content=SMALL, headers={"content-type": "text/plain; charset=utf-8"})
    assert (first.status_code, again.status_code) == (201, 200)
    assert (first.json()["is_new"], again.json()["is_new"]) == (True, False)
    (row,) = site.json("/api/procedures")
    assert row["revision"] == first.json()["revision"] == again.json()["revision"]
    assert (row["procedure"], row["source"], row["plan_finish_s"], row["limit_s"]) == ("mast", "mast.yaml", 1_620, None)
    assert read_instant(row["loaded_at"])


def test_the_plan_of_a_revision_has_the_fixed_form(site: Site) -> None:
    revision = site.load()
    plan = site.json(f"/api/procedures/{revision[:8]}/plan")
    assert set(plan) == {"plan_finish_s", "steps"}
    for step in plan["steps"]:
        keys = {"id", "start_s", "finish_s", "late_start_s", "late_finish_s", "float_s", "critical"}
        assert set(step) == keys
    assert [step["id"] for step in plan["steps"]] == ["rig/1", "rig/2", "wire/1", "wire/2", "paint/1"]
    assert site.json("/api/procedures/mast/plan") == plan


def test_faults_come_with_their_places(site: Site) -> None:
    answer = site.post("/api/procedures", content=SMALL.replace(b"5 min", b"5"), headers=YAML)
    assert answer.status_code == 422
    said = answer.json()
    assert said["code"] == "faults"
    assert said["faults"][0]["line"] == 10
    assert set(said["faults"][0]) == {"line", "column", "what", "remedy", "remark"}


def test_a_run_is_started_and_shown(site: Site) -> None:
    site.load()
    answer = site.post("/api/runs", json={"procedure": "mast", "kind": "rehearsal", "running": "0:10"})
    assert answer.status_code == 201
    run = answer.json()["run"]
    state = site.json(f"/api/runs/{run}")
    assert state == answer.json()
    assert set(state) == SITUATION | RUN | {
        "seq", "head", "limit_s", "limit_by", "room_s", "turn_back_s", "turn_back_phase", "put_off", "taken",
    }  # fmt: skip
    assert (state["at_s"], state["plan_finish_s"], state["lead_s"]) == (600, 1_620, -300)
    assert state["crew"]["EV1"] == {"lead_s": -300, "next": "rig/1"}
    assert set(state["steps"][0]) == {"id", "state", "start_s", "finish_s"}
    offer = {"task", "who", "eligible", "reason", "lead_after_s", "finish_after_s"}
    assert [set(each) for each in state["get_ahead"]] == [offer]
    assert [set(each) for each in site.json("/api/runs")] == [RUN]


def test_a_double_press_of_start_is_one_run(site: Site) -> None:
    site.load()
    body = {"procedure": "mast", "key": new_key()}
    first, second = site.post("/api/runs", json=body), site.post("/api/runs", json=body)
    assert first.json()["run"] == second.json()["run"]
    other = site.post("/api/runs", json=body | {"kind": "rehearsal"})
    assert (other.status_code, other.json()["code"]) == (422, "key-reused")


def test_a_mark_is_answered_with_its_event_and_the_same_key_with_the_same_answer(site: Site) -> None:
    run = site.start()
    site.clock.at_s = 310
    body = {"step": "rig/1", "key": new_key(), "by": "Ana", "station": "loop 1"}
    first = site.post(f"/api/runs/{run}/marks", json=body)
    assert first.status_code == 200
    marked: dict[str, object] = {"step": "rig/1", "values": [], "ordered_because": None}
    event = {"seq": 2, "kind": "StepMarked", "at_s": 310, "body": marked}
    assert first.json() == {"seq": 2, "events": [event], "repeated": False}
    again = site.post(f"/api/runs/{run}/marks", json=body)
    assert again.json() == first.json() | {"repeated": True}
    other = site.post(f"/api/runs/{run}/marks", json=body | {"step": "rig/2"})
    assert (other.status_code, other.json()["code"]) == (422, "key-reused")
    assert site.json(f"/api/runs/{run}")["seq"] == 2


def test_the_key_may_stand_in_the_header(site: Site) -> None:
    run, key = site.start(), new_key()
    for header in (key, f'"{key}"'):
        answer = site.post(f"/api/runs/{run}/marks", json={"step": "rig/1"}, headers={"Idempotency-Key": header})
        assert answer.status_code == 200
    assert answer.json()["repeated"]
    bad = site.post(f"/api/runs/{run}/marks", json={"step": "rig/2"}, headers={"Idempotency-Key": "seven"})
    assert (bad.status_code, bad.json()["code"]) == (422, "bad-key")


@pytest.mark.parametrize("at", ["0:05", "0:05:00", 300, "-5 min"])
def test_a_mark_may_be_earlier_than_now(site: Site, at: str | int) -> None:
    run = site.start()
    site.clock.at_s = 600
    answer = site.post(f"/api/runs/{run}/marks", json={"step": "rig/1", "at": at})
    assert answer.json()["events"][0]["at_s"] == 300


def test_a_refusal_comes_with_the_state_now(site: Site) -> None:
    run = site.start()
    site.clock.at_s = 60
    answer = site.post(f"/api/runs/{run}/marks", json={"step": "wire/1"})
    assert answer.status_code == 409
    said = answer.json()
    assert (said["code"], said["may_order"]) == ("open-prerequisite", True)
    assert "Raise the mast" in said["detail"]
    assert (said["state"]["seq"], said["state"]["at_s"]) == (1, 60)
    body = {"step": "wire/1", "ordered_because": "the mast is up", "values": {}}
    assert site.post(f"/api/runs/{run}/marks", json=body).status_code == 200
    future = site.post(f"/api/runs/{run}/marks", json={"step": "rig/1", "at": 61})
    assert (future.status_code, future.json()["code"]) == (409, "future")
    assert "may_order" not in future.json()


def test_every_other_order_is_taken(site: Site) -> None:
    run = site.start()
    orders: list[dict[str, object]] = [
        {"do": "start", "step": "rig/1"}, {"do": "note", "reason": "dry"}, {"do": "take", "task": "sweep"},
        {"do": "give-back", "task": "sweep"}, {"do": "put-off", "task": "paint", "reason": "rain"},
        {"do": "put-back", "task": "paint", "reason": "sun"}, {"do": "not-needed", "step": "rig/1", "reason": "open"},
        {"do": "reopen", "step": "rig/1", "reason": "shut"}, {"do": "not-needed", "step": "rig/1", "reason": "open"},
        {"do": "not-needed", "step": "rig/2", "reason": "up"}, {"do": "not-needed", "step": "wire/1", "reason": "x"},
        {"do": "no-go", "step": "wire/2", "person": "EV1", "reason": "dark"},
        {"do": "go", "step": "wire/2", "person": "EV1", "reason": "lamp brought"}, {"do": "end", "reason": "done"},
    ]  # fmt: skip
    for order in orders:
        answer = site.post(f"/api/runs/{run}/orders", json=order)
        assert answer.status_code == 200, (order, answer.text)
    assert site.json(f"/api/runs/{run}")["ended_s"] == 0
    assert site.post(f"/api/runs/{run}/orders", json={"do": "note", "reason": "late"}).status_code == 409


def test_a_past_moment_is_shown_and_a_moment_to_come_is_not(site: Site) -> None:
    run = site.start()
    site.clock.at_s = 300
    site.done(run, "rig/1")
    site.clock.at_s = 400
    assert site.json(f"/api/runs/{run}?at=0:04:59")["steps"][0]["state"] == "under way"
    assert site.json(f"/api/runs/{run}?at=300")["steps"][0]["state"] == "done"
    for at, status in (("401", 404), ("-1", 422), ("x", 422)):
        answer = site.get(f"/api/runs/{run}", params={"at": at})
        assert answer.status_code == status
        assert answer.headers["content-type"] == "application/problem+json"


def test_the_log_can_be_read_from_any_place(site: Site) -> None:
    run = site.start()
    site.done(run, "rig/1", "rig/2")
    log = site.json(f"/api/runs/{run}/events")
    assert [each["seq"] for each in log] == [1, 2, 3]
    keys = {"seq", "kind", "at_s", "body", "logged_s", "logged_at", "by", "station", "key", "chain"}
    assert all(set(each) == keys for each in log)
    assert site.json(f"/api/runs/{run}/events?after=1") == log[1:]
    assert site.json(f"/api/runs/{run}/events?after=3") == site.json(f"/api/runs/{run}/events?after=99") == []


def test_the_samples_can_be_run_through_the_api(site: Site) -> None:
    for file in sorted(SAMPLES.glob("*.yaml")):
        revision = site.post("/api/procedures", content=file.read_bytes(), headers=YAML).json()["revision"]
        state = site.post("/api/runs", json={"procedure": revision}).json()
        assert state["lead_s"] == 0
        assert state["projected_finish_s"] == state["plan_finish_s"]
