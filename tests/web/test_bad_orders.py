"""Hostile and late orders: each is answered with a sentence and the state now, costs no time, and changes nothing."""

import re
import time
from collections.abc import Callable
from urllib.parse import quote

import httpx
import pytest

from app.core.changes import MOST_CHANGES
from app.web.actions import LONGEST_FIELD
from app.web.keys import new_key
from app.web.strict_json import MOST_KEYS
from tests.pace import within
from tests.web.broken import JSON, problem
from tests.web.site import BASE, Site, words

BOUND_S = 2.0
"""HARM's bound, in seconds of the processor, at the pace of this machine."""


def in_time(call: Callable[[], httpx.Response]) -> httpx.Response:
    began = time.process_time()
    answer = call()
    assert within(time.process_time() - began, BOUND_S)
    return answer


def test_the_same_key_with_another_body_is_refused(site: Site) -> None:
    run, key = site.start(), new_key()
    assert site.post(f"/api/runs/{run}/marks", json={"step": "rig/1", "key": key}).status_code == 200
    for body in ({"step": "rig/2"}, {"step": "rig/1", "at": "0:00"}, {"step": "rig/1", "values": {"angle": 1}}):
        said = problem(site.post(f"/api/runs/{run}/marks", json=body | {"key": key}), 422)
        assert said["code"] == "key-reused"
    other = site.post(f"/api/runs/{run}/orders", json={"do": "note", "reason": "x", "key": key})
    assert problem(other, 422)["code"] == "key-reused"
    assert site.order(run, "note", reason="x", key=key).status_code == 422
    assert site.json(f"/api/runs/{run}")["seq"] == 2


def test_a_mark_for_a_run_that_has_ended_is_refused_with_the_state_now(site: Site) -> None:
    run = site.start()
    site.clock.at_s = 60
    site.order(run, "end", reason="rain")
    said = problem(site.post(f"/api/runs/{run}/marks", json={"step": "rig/1"}), 409)
    assert said["state"] == {**site.json("/api/runs")[0], "seq": 2, "at_s": 60, "ended_s": 60}
    assert site.order(run, "mark", step="rig/1").status_code == 409


def test_a_mark_of_a_step_that_has_moved_on_is_refused_with_the_state_now(site: Site) -> None:
    """A stale page: the step is done already, put off, or its count is over."""
    run = site.start()
    site.done(run, "rig/1")
    site.order(run, "put-off", task="paint", reason="rain")
    for step in ("rig/1", "paint/1"):
        said = problem(site.post(f"/api/runs/{run}/marks", json={"step": step}), 409)
        assert isinstance(said["state"], dict)
        assert said["state"]["seq"] == 3
        page = site.order(run, "mark", step=step)
        assert page.status_code == 409
        assert "Not done." in words(page.text)


@pytest.mark.parametrize(
    "at", ["0:06", 301, "-(1 min)", "-1 min ago", "23:59:60", "02:30", "10000:00", "0:05:60", "٠:٠٥"]
)
def test_a_mark_in_the_future_or_at_no_time_is_refused(site: Site, at: str | int) -> None:
    run = site.start()
    site.clock.at_s = 300
    assert problem(site.post(f"/api/runs/{run}/marks", json={"step": "rig/1", "at": at}), 409, 422)["detail"]
    assert site.json(f"/api/runs/{run}")["seq"] == 1


def test_a_mark_before_the_step_could_start_is_refused(site: Site) -> None:
    """Before the step that it waits for was done, before its own start, and before the run."""
    run = site.start()
    site.clock.at_s = 600
    assert site.post(f"/api/runs/{run}/marks", json={"step": "rig/1", "at": 300}).status_code == 200
    body = {"step": "rig/2", "values": {"angle": 45}}
    assert problem(site.post(f"/api/runs/{run}/marks", json=body | {"at": 299}), 409)["code"] == "open-prerequisite"
    site.post(f"/api/runs/{run}/orders", json={"do": "start", "step": "rig/2", "at": 400})
    assert problem(site.post(f"/api/runs/{run}/marks", json=body | {"at": 399}), 409)["state"]
    assert problem(site.post(f"/api/runs/{run}/marks", json=body | {"at": -1}), 409)["state"]
    assert site.json(f"/api/runs/{run}")["seq"] == 3


@pytest.mark.parametrize("charset", ["utf-7", "unicode_escape", "raw_unicode_escape", "idna", "punycode", "undefined",
                                     "rot13", "zlib", "utf-16", "utf-32", "latin-1", "x\0", '"', "",
    "UTF-7"])  # fmt: skip
@pytest.mark.parametrize("kind", ["multipart/form-data; boundary=x", "application/x-www-form-urlencoded"])
def test_a_form_in_another_encoding_is_refused(site: Site, charset: str, kind: str) -> None:
    """Some decode to half a character, which nothing can store; some fail in ways of their own."""
    run = site.start()
    body = b'--x\r\nContent-Disposition: form-data; name="reason"\r\n\r\n+2AA-\\ud800\xff\r\n--x--\r\n'
    for path in (f"/runs/{run}/orders", "/procedures", "/name", "/runs"):
        answer = site.post(path, content=body, headers={"content-type": f"{kind}; charset={charset}"})
        assert answer.status_code == 415
        assert "UTF-8" in words(answer.text)
    assert site.json(f"/api/runs/{run}")["seq"] == 1


def test_a_form_that_says_utf_8_is_taken(site: Site) -> None:
    run = site.start()
    kind = {"content-type": "application/x-www-form-urlencoded; charset=UTF-8"}
    answer = site.post(f"/runs/{run}/orders", content="do=note&reason=%C3%A9&page=desk", headers=kind)
    assert answer.status_code == 303
    assert site.json(f"/api/runs/{run}/events")[-1]["body"]["text"] == "é"


def test_bytes_of_a_form_that_are_no_utf_8_are_shown_as_such(site: Site) -> None:
    run = site.start()
    kind = {"content-type": "application/x-www-form-urlencoded"}
    answer = site.post(f"/runs/{run}/orders", content=b"do=note&reason=%ff%ed%a0%80x&page=desk", headers=kind)
    assert answer.status_code == 303
    assert site.json(f"/api/runs/{run}/events")[-1]["body"]["text"].endswith("\N{REPLACEMENT CHARACTER}x")


LONG = {
    "a step": {"do": "mark", "step": "x" * 500_000}, "a reason": {"do": "note", "reason": "x" * 500_000},
    "marks that combine": {"do": "note", "reason": "a" + "\u0301" * 100_000}, "a time": {"do": "mark",
    "at": "1" * 500_000},
    "a value": {"do": "mark", "step": "rig/2", "value:angle": "9" * 500_000}, "a field's name": {"do": "x",
    "v" * 500_000: "1"},
    "a page": {"do": "note", "reason": "x", "page": "a/" * 100_000}, "what to do": {"do": "x" * 500_000},
    "a key": {"do": "note", "reason": "x", "key": "7" * 500_000}, "a search": {"do": "x", "page": "log",
    "find": "(" * 150_000},
    "a change": {"do": "x", "page": "lead", "if": "EV1 loses " + "9" * 500_000},
}  # fmt: skip


@pytest.mark.parametrize("fields", LONG.values(), ids=LONG)
def test_a_field_that_nobody_types_is_refused_and_not_repeated(site: Site, fields: dict[str, str]) -> None:
    run = site.start()
    answer = in_time(lambda: site.post(f"/runs/{run}/orders", data=fields))
    assert answer.status_code in (404, 409, 422)
    assert len(answer.content) < 60_000
    assert site.json(f"/api/runs/{run}")["seq"] == 1


def test_a_field_as_long_as_the_core_takes_is_judged_by_the_core(site: Site) -> None:
    run = site.start()
    assert "2,000" in words(site.order(run, "note", reason="x" * (LONGEST_FIELD - 10)).text)


@pytest.mark.parametrize("count", [MOST_CHANGES + 1, 2_500])
def test_more_changes_than_can_be_tried_are_said_and_not_shown(site: Site, count: int) -> None:
    """Each is shown with a form that repeats all the others: 2,500 took 14 s and 1.5 GB."""
    run = site.start()
    address = f"/runs/{run}/lead?" + "&".join(["if=EV1%20loses%201%20min"] * count)
    page = in_time(lambda: site.get(address))
    assert f"At most {MOST_CHANGES} changes" in words(page.text)
    assert len(page.content) < 100_000
    problem(in_time(lambda: site.get(address.replace("/runs/", "/api/runs/").replace("/lead", "/what-if"))), 422)


@pytest.mark.parametrize("name", ["x" * 60_000, "%" * 3_000, "_" * 64, "'; --", "\0", "\ufffd", " ", "a" * 64])
def test_a_revision_that_is_none_is_not_found(site: Site, name: str) -> None:
    """SQLite takes a long text in an address for a pattern that is too complex, which was a 500."""
    site.load()
    assert site.get(f"/procedures/{quote(name, safe='')}").status_code == 404
    assert site.post("/runs", data={"revision": name}).status_code == 404
    problem(site.post("/api/runs", json={"procedure": name[:140]}), 404)


def test_an_object_of_very_many_keys_is_refused_at_once(site: Site) -> None:
    run = site.start()
    body = "{" + ",".join(f'"k{number}":1' for number in range(50_000)) + "}"
    answer = in_time(lambda: site.post(f"/api/runs/{run}/marks", content=body, headers={"content-type": JSON}))
    assert f"{MOST_KEYS:,} keys" in str(problem(answer, 422)["detail"])


WIDE = {
    "a list of 190,000": '{"do":"take-set","tasks":[' + ",".join(["1"] * 190_000) + "]}",
    "lists in a list": '{"do":"take-set","tasks":[' + ",".join(["[]"] * 190_000) + "]}",
    "500 KB of blanks": " " * 500_000 + "{}",
    "500,000 digits": '{"do":"note","at":' + "9" * 500_000 + "}",
    "a fraction of 500,000 digits": '{"do":"reading","supply":"x","value":0.' + "9" * 500_000 + "}",
    "an exponent of 500,000 digits": '{"do":"reading","supply":"x","value":1e-' + "9" * 500_000 + "}",
    "a string of escapes": '{"do":"' + "\\u0061" * 90_000 + '"}',
    "halves of characters": '{"do":"' + "\\ud83d" * 90_000 + '"}',
    "a key twice, and again": "{" + '"a":1,' * 90_000 + '"a":1}',
    "a word for a union": '{"do":"revise","takes":[' + ",".join(["1"] * 100_000) + "]}",
}


@pytest.mark.parametrize("body", WIDE.values(), ids=WIDE)
def test_a_wide_body_is_refused_in_time_and_not_repeated(site: Site, body: str) -> None:
    run = site.start()
    answer = in_time(
        lambda: site.post(f"/api/runs/{run}/orders", content=body, headers={"content-type": "application/json"})
    )
    problem(answer, 400, 409, 422)
    assert len(answer.content) < 3_000
    assert site.json(f"/api/runs/{run}")["seq"] == 1


FORMS = {
    "ampersands": b"&" * 590_000, "equals": b"=" * 590_000, "fields": b"a&" * 295_000,
    "per cents": b"a=" + b"%" * 590_000,
    "escapes": b"a=" + b"%41" * 190_000, "semicolons": b";" * 590_000,
}  # fmt: skip


@pytest.mark.parametrize("body", FORMS.values(), ids=FORMS)
def test_a_form_of_signs_is_refused_in_time(site: Site, body: bytes) -> None:
    run = site.start()
    kind = {"content-type": "application/x-www-form-urlencoded"}
    answer = in_time(lambda: site.post(f"/runs/{run}/orders", content=body, headers=kind))
    assert answer.status_code in (400, 422)
    assert words(answer.text)


PARTS = {
    "no end": b"--x\r\n" + b"--" * 200_000, "line ends": b"\r\n" * 250_000,
    "headers": b"--x\r\n" + b"A: b\r\n" * 80_000,
    "a long header": b"--x\r\nA: " + b"b" * 500_000,
    "a text for a file": b'--x\r\nContent-Disposition: form-data; name="file"'
    b"\r\n\r\nx\r\n--x--",
    "nearly its end": b'--x\r\nContent-Disposition: form-data; name="a"\r\n\r\n' + b"\r\n--" * 100_000,
    "many parameters": b"--x\r\nContent-Disposition: form-data; " + b"a=b; " * 90_000 + b"\r\n\r\nx\r\n--x--",
    "999 files": b"".join(
        b'--x\r\nContent-Disposition: form-data; name="file"; filename="a"\r\n\r\nx\r\n' for _ in range(999))
    + b"--x--",
}  # fmt: skip


@pytest.mark.parametrize("body", PARTS.values(), ids=PARTS)
def test_a_form_of_parts_that_makes_no_sense_is_refused_in_plain_words(site: Site, body: bytes) -> None:
    kind = {"content-type": "multipart/form-data; boundary=x"}
    answer = in_time(lambda: site.post("/procedures", content=body, headers=kind))
    assert answer.status_code in (400, 422)
    assert not re.search("class|UploadFile|Traceback", words(answer.text))
    assert site.json("/api/procedures") == []


@pytest.mark.parametrize("page", ["list/\0", "list/\u202e\u2028", "desk\r\nX: y", "\x1b[2J", "list/" + "a" * 60_000])
def test_a_page_that_is_none_is_named_without_what_hides(site: Site, page: str) -> None:
    run = site.start()
    answer = site.order(run, "note", page=page)
    assert answer.status_code in (404, 422)
    assert not re.search("[\0-\x08\x0b-\x1f\u202e\u2028]", answer.text)
    assert len(answer.content) < 60_000


@pytest.mark.parametrize("hosts", [["127.0.0.1", "example.org"], ["example.org", "127.0.0.1"], ["127.0.0.1"] * 2])
def test_more_than_one_host_is_refused(site: Site, hosts: list[str]) -> None:
    """RFC 9112, 3.2."""
    for path in ("/", "/api/runs"):
        assert site.bare("GET", path, headers=[("host", each) for each in hosts]).status_code == 400
    assert site.bare("GET", "/", headers=[("host", BASE.removeprefix("http://"))]).status_code == 200
