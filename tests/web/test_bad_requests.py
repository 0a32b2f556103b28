"""Hostile and broken requests get an answer in words, never a 500, and change nothing.

Cases: HTTP and JSON parsers' known weak points; errors of the API are problem details (RFC 9457).
"""

import json
from collections.abc import AsyncIterator

import httpx
import pytest

from app.main import LARGEST_BODY
from app.web.safe_headers import HEADERS
from tests.service.making import SMALL
from tests.web.site import BASE, Site, words

JSON = "application/json"
DEEP = 50_000


def problem(answer: httpx.Response, *statuses: int) -> dict[str, object]:
    """RFC 9457, 3: type, title, status, detail, and its own media type."""
    assert answer.status_code in statuses, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    said: dict[str, object] = answer.json()
    assert said["status"] == answer.status_code
    assert said["type"] == "about:blank"
    assert said["title"]
    assert said["detail"]
    return said


BODIES = {
    "NaN as a time": '{"step":"rig/1","at":NaN}',
    "NaN as a value": '{"step":"rig/1","values":{"angle":NaN}}',
    "Infinity": '{"step":"rig/1","values":{"angle":-Infinity}}',
    "1e999": '{"step":"rig/1","values":{"angle":1e999}}',
    "1e999 as a time": '{"step":"rig/1","at":1e999}',
    "a key twice": '{"step":"rig/1","step":"rig/2"}',
    "a value twice": '{"step":"rig/1","values":{"angle":1,"angle":2}}',
    "a hostile key twice": '{"\\ud800":1,"\\ud800":2}',
    "a lone surrogate as a step": '{"step":"\\ud800"}',
    "a lone surrogate as a name": '{"step":"rig/1","by":"\\udfff"}',
    "a lone surrogate as a key": '{"step":"rig/1","values":{"\\ud800":1}}',
    "a lone surrogate as a reason": '{"step":"rig/1","ordered_because":"\\ud800"}',
    "a lone surrogate as a time": '{"step":"rig/1","at":"\\ud800"}',
    "2**63 as a value's name": '{"step":"rig/1","values":{"depth":9223372036854775808}}',
    "true for a time": '{"step":"rig/1","at":true}',
    "true for a value": '{"step":"rig/1","values":{"angle":true}}',
    "a text for a value": '{"step":"rig/1","values":{"angle":"12"}}',
    "a fraction for a time": '{"step":"rig/1","at":1.5}',
    "null for a step": '{"step":null}',
    "5,000 digits": '{"step":"rig/1","at":' + "9" * 5_000 + "}",
    "open brackets": "[" * DEEP,
    "closed brackets": "[" * DEEP + "]" * DEEP,
    "nested objects": '{"a":' * DEEP + "1" + "}" * DEEP,
    "brackets in a value": '{"step":"rig/1","values":' + "[" * DEEP + "]" * DEEP + "}",
    "an unknown field": '{"step":"rig/1","stp":"rig/1"}',
    "no step": "{}",
    "a list": "[]",
    "a number": "7",
    "nothing": "",
    "half a body": '{"step":"rig/1"',
    "two values": '{"step":"rig/1"}{"step":"rig/1"}',
    "not UTF-8": b'{"step":"\xff"}',
    "UTF-16": '{"step":"rig/1"}'.encode("utf-16"),
    "a bad key": '{"step":"rig/1","key":"7"}',
    "an empty name": '{"step":"rig/1","by":""}',
    "a long name": '{"step":"rig/1","by":"' + "x" * 61 + '"}',
    "a long reason": '{"step":"rig/1","ordered_because":"' + "x" * 2_001 + '"}',
    "51 values": json.dumps({"step": "rig/1", "values": {f"v{number}": 1 for number in range(51)}}),
}


@pytest.mark.parametrize("body", BODIES.values(), ids=BODIES)
def test_a_body_that_makes_no_sense_is_refused(site: Site, body: str | bytes) -> None:
    run = site.start()
    answer = site.post(f"/api/runs/{run}/marks", content=body, headers={"content-type": JSON})
    problem(answer, 400, 422)
    assert site.json(f"/api/runs/{run}")["seq"] == 1


@pytest.mark.parametrize("at", [2**63, 2**70, 10**18, -1, -(2**70)])
def test_a_time_beyond_all_measure_is_refused(site: Site, at: int) -> None:
    run = site.start()
    problem(site.post(f"/api/runs/{run}/marks", json={"step": "rig/1", "at": at}), 409)
    problem(site.post("/api/runs", json={"procedure": "mast", "running": at}), 422)


@pytest.mark.parametrize("value", [2**63, -(2**63) - 1, 10**300, 5e-324])
def test_a_large_number_is_a_value_like_any_other(site: Site, value: float) -> None:
    run = site.start()
    site.done(run, "rig/1")
    answer = site.post(f"/api/runs/{run}/marks", json={"step": "rig/2", "values": {"angle": value}})
    assert answer.status_code == 200
    assert answer.json()["events"][0]["body"]["values"] == [["angle", float(value)]]
    assert site.get(f"/runs/{run}/log").status_code == 200


def test_a_value_beyond_the_largest_double_is_refused(site: Site) -> None:
    run = site.start()
    site.done(run, "rig/1")
    problem(site.post(f"/api/runs/{run}/marks", json={"step": "rig/2", "values": {"angle": 10**400}}), 422)


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", "", "x"])
def test_a_wrong_content_type_is_refused(site: Site, kind: str) -> None:
    run = site.start()
    for address in (f"/api/runs/{run}/marks", f"/api/runs/{run}/orders", "/api/runs"):
        problem(site.post(address, content='{"step":"rig/1"}', headers={"content-type": kind}), 415)
    if kind != "text/plain":
        problem(site.post("/api/procedures", content="a: b", headers={"content-type": kind}), 415)
    assert site.json(f"/api/runs/{run}")["seq"] == 1


@pytest.mark.parametrize("endless", [False, True], ids=["declared", "chunked"])
def test_a_body_over_the_limit_is_refused(site: Site, endless: bool) -> None:
    async def chunks() -> AsyncIterator[bytes]:
        for _ in range(LARGEST_BODY // 65_536 + 2):
            yield b"a" * 65_536

    run = site.start()
    for address, kind in ((f"/api/runs/{run}/marks", JSON), ("/api/procedures", "application/yaml")):
        content = chunks() if endless else b"a" * (LARGEST_BODY + 1)
        said = problem(site.post(address, content=content, headers={"content-type": kind}), 413)
        assert "larger than a procedure file may be; nothing was read" in str(said["detail"])
    for address in ("/procedures", f"/runs/{run}/orders", "/name"):
        content = chunks() if endless else b"a" * (LARGEST_BODY + 1)
        answer = site.post(address, content=content, headers={"content-type": "application/x-www-form-urlencoded"})
        assert answer.status_code == 413
        assert "larger than a procedure file may be; nothing was read" in words(answer.text)


@pytest.mark.parametrize("many", [{"data": {f"f{number}": "1" for number in range(1_001)}},
                                  {"files": {f"f{number}": (None, "1") for number in range(1_001)}}])  # fmt: skip
def test_1001_form_fields_are_refused(site: Site, many: dict[str, dict[str, object]]) -> None:
    run = site.start()
    for address in (f"/runs/{run}/orders", "/procedures", "/name", "/runs"):
        answer = site.post(address, **many)
        assert answer.status_code in (400, 413)
        assert "Too many" in words(answer.text)


@pytest.mark.parametrize("address", ["/api/runs/99", f"/api/runs/{2**63}", "/api/runs/-1", "/api/runs/abc",
                                     "/api/runs/99/events", "/api/runs/99/live", "/api/procedures/nothing/plan",
                                     "/api/nowhere"])  # fmt: skip
def test_what_is_not_there_is_a_404(site: Site, address: str) -> None:
    problem(site.get(address), 404)


@pytest.mark.parametrize("run", ["%091", "1%20", "%201", "1_0", "0_1", "%2B1", "1.0", "0x1", "1e0", "%D9%A1", "true"])
def test_a_run_has_one_address_and_no_other_reading_of_a_number(site: Site, run: str) -> None:
    assert site.start() == 1
    problem(site.get(f"/api/runs/{run}"), 404)
    problem(site.post(f"/api/runs/{run}/marks", json={"step": "rig/1"}), 404)
    for page in ("", "/desk", "/spare", "/carried.yaml"):
        assert site.get(f"/runs/{run}{page}").status_code == 404
    assert site.post(f"/runs/{run}/orders", data={"do": "note", "reason": "x"}).status_code == 404
    problem(site.get("/api/runs/1/events?after=%2B1"), 422)


def test_an_order_for_a_run_that_is_not_there_is_a_404(site: Site) -> None:
    for run in (99, 2**70):
        problem(site.post(f"/api/runs/{run}/marks", json={"step": "rig/1"}), 404)
        assert site.order(run, "mark", step="rig/1").status_code == 404
    problem(site.post("/api/runs", json={"procedure": "nothing"}), 404)


@pytest.mark.parametrize("after", ["-1", "abc", str(2**70), "1.5", "NaN", ""])
def test_a_place_in_the_log_that_is_none_is_refused(site: Site, after: str) -> None:
    run = site.start()
    problem(site.get(f"/api/runs/{run}/events", params={"after": after}), 422)


def test_a_wrong_method_is_a_405(site: Site) -> None:
    problem(site.request("DELETE", "/api/runs"), 405)
    refused = site.request("PUT", "/")
    assert (refused.status_code, refused.headers["allow"]) == (405, "GET, HEAD")


@pytest.mark.parametrize("address", ["/", "/sign-in", "/people", "/runs/1", "/runs/1/desk", "/runs/9/desk", "/api/runs",
                                     "/api/runs/1", "/api/runs/x", "/api/nowhere", "/api/docs", "/api/openapi.json",
                                     "/runs/1/carried.yaml", "/static/leadline.css"])  # fmt: skip
def test_a_head_is_answered_as_a_get_without_its_body(site: Site, address: str) -> None:
    """RFC 9110, 9.3.2."""
    site.start()
    whole, head = site.get(address), site.request("HEAD", address)
    assert head.status_code == whole.status_code
    assert head.content == b""
    assert dict(head.headers) == dict(whole.headers)


def test_a_head_of_what_never_ends_or_only_takes_orders_says_what_is_allowed(site: Site) -> None:
    run = site.start()
    for address, allowed in (
        ("/api/live", "GET"),
        ("/api/live%0a?run=0", "GET"),
        (f"/api/runs/{run}/live", "GET"),
        (f"/runs/{run}/orders", ""),
    ):
        answer = site.request("HEAD", address)
        if allowed:
            assert (answer.status_code, answer.headers["allow"]) == (405, allowed)
        else:
            assert answer.status_code == 404
    assert site.request("HEAD", "/name").headers["allow"] == "POST"


@pytest.mark.parametrize("host", ["example.org", "127.0.0.1.example.org", "10.0.0.7:8765", "", "localhost.example.org"])
def test_a_foreign_host_is_refused(site: Site, host: str) -> None:
    problem(site.get("/api/runs", headers={"host": host}), 400)
    assert site.get("/", headers={"host": host}).status_code == 400


@pytest.mark.parametrize("host", ["localhost:8765", "127.0.0.1", "[::1]:8765"])
def test_this_machines_own_names_are_served(site: Site, host: str) -> None:
    assert site.get("/", headers={"host": host}).status_code == 200
    answer = site.post("/name", data={"name": "Ana"}, headers={"host": host, "origin": f"http://{host}"})
    assert answer.status_code == 303


@pytest.mark.parametrize(
    "origin", ["http://example.org", "null", "http://127.0.0.1:1", "http://[", "", "http://localhost:8765"]
)
def test_a_post_from_a_foreign_origin_is_refused(site: Site, origin: str) -> None:
    run = site.start()
    problem(site.post(f"/api/runs/{run}/marks", json={"step": "rig/1"}, headers={"origin": origin}), 403)
    assert site.post("/name", data={"name": "x"}, headers={"origin": origin}).status_code == 403
    assert site.json(f"/api/runs/{run}")["seq"] == 1


def test_a_browser_that_says_the_form_is_from_elsewhere_is_believed(site: Site) -> None:
    for where in ("cross-site", "same-site"):
        assert site.post("/name", data={"name": "x"}, headers={"sec-fetch-site": where}).status_code == 403
    own = {"origin": BASE, "sec-fetch-site": "same-origin"}
    assert site.post("/name", data={"name": "x"}, headers=own).status_code == 303


def test_every_answer_carries_the_safe_headers(site: Site) -> None:
    run = site.start()
    for address in (
        "/",
        f"/runs/{run}/desk",
        "/api/runs",
        "/api/docs",
        "/api/openapi.json",
        "/nowhere",
        "/api/nowhere",
    ):
        headers = site.get(address).headers
        policy = dict(part.strip().split(" ", 1) for part in headers["content-security-policy"].split(";"))
        assert policy["default-src"] == policy["script-src"] == "'self'"
        assert policy["object-src"] == policy["base-uri"] == policy["frame-ancestors"] == "'none'"
        assert "unsafe" not in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["cache-control"] == "no-store"
    for status, more in ((400, {"host": "example.org"}), (403, {"origin": "http://example.org"})):
        answer = site.post("/name", data={"name": "x"}, headers=more)
        assert answer.status_code == status
        assert answer.headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize("address", ["/", "/runs/1/desk", "/api/runs", "/static/leadline.css"])
def test_a_fault_of_our_own_carries_the_safe_headers_too(
    site: Site, address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The framework makes that answer outside of everything that is put around the application."""

    def broken(*_: object) -> None:
        raise RuntimeError("planted")

    site.start()
    for planted in ("runs.Service.runs", "runs.Service.situation", "finding.finding.find"):
        monkeypatch.setattr(f"app.service.{planted}", broken)
    monkeypatch.setattr("starlette.staticfiles.StaticFiles.get_response", broken)
    answer = site.get(address)
    assert answer.status_code == 500
    for name, said in HEADERS.items():
        assert answer.headers[name] == said
    assert answer.headers["cache-control"] == "no-store"
    assert "a fault of its own" in words(answer.text)


def test_only_a_static_file_that_is_there_is_kept(site: Site) -> None:
    assert site.get("/static/leadline.css?v=1").headers["cache-control"] == "max-age=31536000, immutable"
    odd = {"host": "example.org"}
    for answer in (
        site.get("/static/nope.js?v=1"),
        site.post("/static/leadline.css"),
        site.get("/static/", headers=odd),
    ):
        assert answer.status_code >= 400
        assert answer.headers["cache-control"] == "no-store"


def test_a_station_gets_a_cookie_that_scripts_cannot_read(site: Site) -> None:
    site.client.cookies.clear()
    cookie = site.get("/").headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Lax" in cookie
    assert "set-cookie" not in site.get("/api/runs").headers


@pytest.mark.parametrize(
    "ranges", ["bytes=0-0", "bytes=" + ",".join(f"{n}-{n}" for n in range(2_000)), "bytes=-1", "x"]
)
def test_odd_ranges_of_a_static_file_are_no_error(site: Site, ranges: str) -> None:
    """CVE-2025-62727: many ranges in one header took quadratic time in an older Starlette."""
    assert site.get("/static/leadline.css", headers={"range": ranges}).status_code in (200, 206, 400, 416)


@pytest.mark.parametrize("file", [b"", b"\xff\xfe\x00", b"a: &x [*x]", b"[" * 3_000, b"a: !!python/object:os.system {}",
                                  b"procedure: \x00", b"procedure: \xe9",
                                  b"a" * 590_000])  # fmt: skip
def test_a_hostile_file_is_refused_with_a_place(site: Site, file: bytes) -> None:
    said = problem(site.post("/api/procedures", content=file, headers={"content-type": "application/yaml"}), 422)
    assert said["faults"]
    page = site.post("/procedures", files={"file": ("x.yaml", file)})
    assert page.status_code in (413, 422)
    assert site.json("/api/procedures") == []


@pytest.mark.parametrize("name", ["../../etc/x", "CON", "x" * 300, 'a"\r\nb: c', "\u202egnp.yaml", "<b>"])
def test_a_hostile_file_name_is_only_a_label(site: Site, name: str) -> None:
    assert site.post("/procedures", files={"file": (name, SMALL)}).status_code == 303
    assert site.get("/").status_code == 200
