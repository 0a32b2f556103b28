"""Who asks, and from where: foreign hosts and origins; and what every answer carries, be it a fault of our own."""

import pytest

from app.web.safe_headers import HEADERS
from tests.web.broken import problem
from tests.web.site import BASE, Site, words


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
