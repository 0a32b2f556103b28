"""Every press, plain and smoothed by htmx: refusals in words, times heard late, values as people type them."""

import httpx
import pytest
from sqlalchemy import Connection

from app.web.keys import new_key
from tests.service.making import SAMPLES, SMALL
from tests.web.site import HX, Site, forms, words


def kinds(site: Site, run: int) -> list[str]:
    return [each["kind"] for each in site.json(f"/api/runs/{run}/events")]


def body(site: Site, run: int) -> dict[str, object]:
    found: dict[str, object] = site.json(f"/api/runs/{run}/events")[-1]["body"]
    return found


ORDERS = [
    ("mark", {"step": "rig/2", "value:angle": "45"}, "StepMarked"),
    ("mark", {"step": "rig/2", "value:angle": "91"}, "CompletionCalled"),
    ("undo", {"step": "rig/1"}, "StepReopened"),
    ("reopen", {"step": "rig/1", "reason": "the lid is shut"}, "StepReopened"),
    ("start", {"step": "rig/2"}, "StartRecorded"),
    ("note", {"reason": "wind is rising"}, "NoteAdded"),
    ("note", {"reason": "hands are cold", "person": "EV1"}, "NoteAdded"),
    ("not-needed", {"step": "rig/2", "reason": "it stands"}, "StepNotNeeded"),
    ("put-off", {"task": "paint", "reason": "rain"}, "TasksPutOff"),
    ("take", {"task": "sweep"}, "WorkTaken"),
    ("end", {"reason": "rain"}, "RunEnded"),
]


@pytest.mark.parametrize("hx", [False, True], ids=["plain", "htmx"])
@pytest.mark.parametrize(("do", "fields", "kind"), ORDERS, ids=[f"{do}-{kind}" for do, _, kind in ORDERS])
def test_an_order_is_carried_out(site: Site, do: str, fields: dict[str, str], kind: str, hx: bool) -> None:
    run = site.start()
    site.clock.at_s = 300
    site.done(run, "rig/1")
    form = fields | {"do": do, "page": "desk"}
    answer = site.post(f"/runs/{run}/orders", data=form, headers=HX if hx else {})
    assert kinds(site, run)[-1] == kind
    if hx:
        assert answer.status_code == 200
        assert "<hx-partial" in answer.text
        assert "<html" not in answer.text
    else:
        assert (answer.status_code, answer.headers["location"]) == (303, f"/runs/{run}/desk")


def test_a_put_off_task_is_put_back_and_taken_work_given_back(site: Site) -> None:
    run = site.start()
    for do, fields, kind in (
        ("put-off", {"task": "paint", "reason": "rain"}, "TasksPutOff"),
        ("put-back", {"task": "paint", "reason": "sun"}, "TaskPutBack"),
        ("take", {"task": "sweep"}, "WorkTaken"),
        ("give-back", {"task": "sweep"}, "WorkGivenBack"),
    ):
        answer = site.post(f"/runs/{run}/orders", data={"do": do, "page": "lead", **fields})
        assert answer.headers["location"] == f"/runs/{run}/lead"
        assert kinds(site, run)[-1] == kind


def test_a_hold_waits_for_each_go_and_a_no_go_says_why(site: Site) -> None:
    run = site.start()
    site.done(run, "rig/1", "rig/2", "wire/1")
    refused = site.order(run, "mark", step="wire/2")
    assert refused.status_code == 409
    assert "no go yet from EV1 and EV2" in words(refused.text)
    site.order(run, "go", step="wire/2", person="EV1")
    site.order(run, "no-go", step="wire/2", person="EV2", reason="it flickers")
    assert "NO-GO" in words(site.page(f"/runs/{run}/desk"))
    assert "it flickers" in words(site.page(f"/runs/{run}/lead"))
    assert site.order(run, "mark", step="wire/2").status_code == 409
    site.order(run, "go", step="wire/2", person="EV2", reason="wick trimmed")
    site.done(run, "wire/2")


@pytest.mark.parametrize("hx", [False, True], ids=["plain", "htmx"])
def test_an_open_prerequisite_is_named_and_the_leads_order_form_then_works(site: Site, hx: bool) -> None:
    run = site.start()
    refused = site.order(run, "mark", step="wire/1", hx=hx, at="0:00:00")
    assert refused.status_code == 409
    assert "Raise the mast" in words(refused.text)
    (form,) = [each for each in forms(refused.text) if "ordered_because" in each]
    assert form["method"] == "post"
    sent = {name: text for name, text in form.items() if name not in ("method", "action")}
    answer = site.post(form["action"], data=sent | {"ordered_because": "the mast is up"}, headers=HX if hx else {})
    assert answer.status_code == (200 if hx else 303)
    assert body(site, run) == {"step": "wire/1", "values": [], "ordered_because": "the mast is up"}


def test_the_leads_order_keeps_the_values_that_were_typed(site: Site) -> None:
    asks = b"takes: 10 min, record: {ohm: {unit: ohm}}}"
    run = site.start(SMALL.replace(b"Join the wires, takes: 10 min}", b"Join the wires, " + asks))
    refused = site.order(run, "mark", step="wire/1", value__ohm="12,5")
    (form,) = [each for each in forms(refused.text) if "ordered_because" in each]
    sent = {name: text for name, text in form.items() if name not in ("method", "action")}
    assert site.post(form["action"], data=sent | {"ordered_because": "so be it"}).status_code == 303
    assert body(site, run)["values"] == [["ohm", 12.5]]


def test_the_leads_order_needs_a_reason(site: Site) -> None:
    run = site.start()
    answer = site.order(run, "mark", step="wire/1", ordered_because="  ")
    assert answer.status_code == 422
    assert "needs a reason" in words(answer.text)
    assert kinds(site, run) == ["RunStarted"]


def test_a_refusal_stands_on_the_page_that_the_order_came_from(site: Site) -> None:
    run = site.start()
    site.done(run, "rig/1")
    for page in ("desk", "lead", "list/EV2", "log"):
        answer = site.order(run, "mark", step="rig/1", page=page)
        assert answer.status_code == 409
        assert "is already done" in words(answer.text)
        assert f'data-page="{page}"' in answer.text


@pytest.mark.parametrize(("typed", "kept"), [
    ("45", 45.0), ("12,5", 12.5), ("12.5", 12.5), ("-3", -3.0), ("−0,25", -0.25), (" 7 ", 7.0),
])  # fmt: skip
def test_a_value_is_read_as_people_type_it(site: Site, typed: str, kept: float) -> None:
    run = site.start()
    site.done(run, "rig/1")
    site.order(run, "mark", step="rig/2", value__angle=typed)
    assert body(site, run)["values"] == [["angle", kept]]


@pytest.mark.parametrize("typed", ["x", "1.2.3", "1e5", "nan", "inf", "0x10", "٣", "1 000", "=1+1", "9" * 40])
def test_a_value_that_is_no_number_is_refused_in_words(site: Site, typed: str) -> None:
    run = site.start()
    site.done(run, "rig/1")
    answer = site.order(run, "mark", step="rig/2", value__angle=typed)
    assert answer.status_code == 422
    assert "needs a number" in words(answer.text)
    assert kinds(site, run)[-1] == "StepMarked"
    assert "rig/2" not in str(body(site, run))


def test_a_value_that_is_left_empty_is_missing_and_the_lead_may_order_without_it(site: Site) -> None:
    run = site.start()
    site.done(run, "rig/1")
    answer = site.order(run, "mark", step="rig/2", value__angle="  ")
    assert answer.status_code == 409
    assert "“angle” (deg) is not given" in words(answer.text)
    site.order(run, "mark", step="rig/2", value__angle="  ", ordered_because="gauge broke")
    assert (body(site, run)["values"], body(site, run)["ordered_because"]) == ([], "gauge broke")


def test_a_typed_number_is_no_time_because_it_does_not_say_its_unit(site: Site) -> None:
    run = site.start()
    site.clock.at_s = 600
    answer = site.order(run, "mark", step="rig/1", at="25")
    assert answer.status_code == 422
    assert "is not an elapsed time" in words(answer.text)


@pytest.mark.parametrize(("typed", "at_s"), [
    ("-2 min", 480), ("−2 min", 480), ("- 30 s", 570), ("0:08:00", 480), ("0:08", 480), ("", 600),
])  # fmt: skip
def test_a_call_that_was_heard_late_is_entered_when_it_happened(site: Site, typed: str, at_s: int) -> None:
    run = site.start()
    site.clock.at_s = 600
    assert site.order(run, "mark", step="rig/1", at=typed).status_code == 303
    last = site.json(f"/api/runs/{run}/events")[-1]
    assert (last["at_s"], last["logged_s"]) == (at_s, 600)


@pytest.mark.parametrize(("typed", "status", "said"), [
    ("0:10:01", 409, "has not come yet"), ("-11 min", 409, "before the run began"),
    ("noon", 422, "not an elapsed time"), ("-2", 422, "unit"), ("1:75", 422, "not an elapsed time"),
])  # fmt: skip
def test_a_time_in_the_future_or_no_time_is_refused(site: Site, typed: str, status: int, said: str) -> None:
    run = site.start()
    site.clock.at_s = 600
    answer = site.order(run, "mark", step="rig/1", at=typed)
    assert answer.status_code == status
    assert said in words(answer.text)
    assert kinds(site, run) == ["RunStarted"]


def test_two_presses_of_one_button_are_one_mark(site: Site) -> None:
    run, key = site.start(), new_key()
    for hx in (False, True, False):
        assert site.order(run, "mark", step="rig/1", key=key, hx=hx, at="-0 s").status_code in (200, 303)
        site.clock.at_s += 2
    assert kinds(site, run) == ["RunStarted", "StepMarked"]


def test_the_buttons_of_the_desk_do_what_they_say(site: Site) -> None:
    run = site.start()
    page = site.page(f"/runs/{run}/desk")
    (mark,) = [form for form in forms(page) if form.get("do") == "mark" and form.get("step") == "rig/1"]
    assert site.post(mark["action"], data=mark).status_code == 303
    assert site.states(run)["rig/1"] == "done"
    (undo,) = [form for form in forms(site.page(f"/runs/{run}/desk")) if form.get("do") == "undo"]
    assert site.post(undo["action"], data=undo).status_code == 303
    assert site.states(run)["rig/1"] == "under way"


@pytest.mark.parametrize("fields", [
    {"do": "fly"}, {"do": ""}, {"do": "undo"}, {"do": "put-off", "reason": "x"}, {"do": "note"},
    {"do": "note", "reason": "x" * 2_001}, {"do": "mark"}, {"do": "mark", "step": "nothing/1"},
    {"do": "mark", "step": "rig/1", "value:depth": "3"}, {"do": "note", "reason": "x", "person": "NOBODY"},
    {"do": "mark", "step": "rig/1", "key": "not-a-key"}, {"do": "take", "task": "nothing"},
], ids=str)  # fmt: skip
def test_an_order_that_makes_no_sense_is_refused_in_words(site: Site, fields: dict[str, str]) -> None:
    run = site.start()
    answer = site.post(f"/runs/{run}/orders", data=fields)
    assert answer.status_code == 422
    assert "Not done." in words(answer.text)
    assert kinds(site, run) == ["RunStarted"]


def test_an_ended_run_takes_nothing_and_offers_nothing(site: Site) -> None:
    run = site.start()
    site.order(run, "end", reason="rain")
    assert site.order(run, "mark", step="rig/1").status_code == 409
    for page in ("desk", "lead", "list/EV1", "log"):
        assert not [form for form in forms(site.page(f"/runs/{run}/{page}")) if form.get("method") == "post"]


def test_a_double_press_of_start_a_run_leads_to_the_same_run(site: Site) -> None:
    site.load()
    (form,) = [each for each in forms(site.page("/")) if each.get("action") == "/runs"]
    sent = {"revision": form["revision"], "key": form["key"], "kind": "rehearsal"}
    first, second = site.post("/runs", data=sent), site.post("/runs", data=sent)
    assert first.status_code == second.status_code == 303
    assert first.headers["location"] == second.headers["location"]
    assert len(site.json("/api/runs")) == 1


def test_a_run_may_be_running_already(site: Site) -> None:
    answer = site.post("/runs", data={"revision": site.load(), "kind": "live", "running": "0:30:00"})
    assert site.json(f"/api{answer.headers['location'].removesuffix('/desk')}")["at_s"] == 1_800
    for running in ("-5 min", "soon", "2000:00"):
        assert site.post("/runs", data={"revision": site.load(), "running": running}).status_code in (409, 422)


def test_a_procedure_is_added_as_text_and_as_a_file(site: Site) -> None:
    typed = site.post("/procedures", data={"text": SMALL.decode()})
    sent = site.post("/procedures", files={"file": ("mast.yaml", SMALL)})
    assert typed.status_code == sent.status_code == 303
    assert typed.headers["location"] == sent.headers["location"] == f"/procedures/{site.load()}"


def test_a_procedure_with_faults_is_refused_with_all_of_them(site: Site) -> None:
    text = SMALL.replace(b"5 min", b"5").replace(b"who: EV2", b"who: EV7", 1)
    answer = site.post("/procedures", files={"file": ("mast.yaml", text)})
    assert answer.status_code == 422
    said = words(answer.text)
    assert "line 10, column" in said
    assert "line 14, column" in said
    assert site.json("/api/procedures") == []


def test_every_sample_can_be_added_as_text(site: Site) -> None:
    for file in SAMPLES.glob("*.yaml"):
        assert site.post("/procedures", data={"text": file.read_text()}).status_code == 303


def test_a_full_disk_is_said_on_the_page_and_reading_goes_on(site: Site) -> None:
    run = site.start()
    _no_more_room(site)
    for hx in (False, True):
        answer = _note_until_full(site, run, hx)
        assert answer.status_code == 507
        assert "The disk is full" in words(answer.text)
        assert ("<hx-partial" in answer.text) is hx
    for page in ("desk", "lead", "list/EV1", "log", "plan"):
        site.page(f"/runs/{run}/{page}")
    site.shell.service.store.write(lambda conn: _set_room(conn, 1_000_000)).result()
    site.done(run, "rig/1")


def _note_until_full(site: Site, run: int, hx: bool) -> httpx.Response:
    for _ in range(200):
        answer = site.order(run, "note", reason="x" * 2_000, hx=hx)
        if answer.status_code not in (200, 303):
            return answer
    raise AssertionError("the disk never was full")


def _no_more_room(site: Site) -> None:
    site.shell.service.store.write(lambda conn: _set_room(conn, _pages(conn))).result()


def _pages(conn: Connection) -> int:
    return int(conn.exec_driver_sql("PRAGMA page_count").scalar_one())


def _set_room(conn: Connection, pages: int) -> None:
    conn.exec_driver_sql(f"PRAGMA max_page_count={pages}").close()
