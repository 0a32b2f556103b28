"""Hostile and broken requests get an answer in words, never a 500, and change nothing.

Cases: HTTP and JSON parsers' known weak points; errors of the API are problem details (RFC 9457).
"""

from collections.abc import AsyncIterator

import pytest

from app.main import LARGEST_BODY
from tests.service.making import SMALL
from tests.web.broken import BODIES, JSON, problem
from tests.web.site import Site, words


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
