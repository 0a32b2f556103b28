"""What a station asks to find out how far its clock is off (RFC 5905, 8)."""

import itertools
from datetime import timedelta

import pytest

from tests.service.making import BEGUN
from tests.web.site import Site


def test_the_server_s_time_is_its_wall_clock_s_in_milliseconds(site: Site) -> None:
    site.clock.at_s = 12.345678
    answer = site.get("/api/time")
    assert answer.status_code == 200
    assert answer.headers["cache-control"] == "no-store"
    expected = (BEGUN + timedelta(seconds=12.345678)).timestamp() * 1000
    said = answer.json()
    assert (said["received_ms"], said["sent_ms"]) == (expected, expected)
    assert said["steady_ms"] == 12_346
    assert said["server"] == site.json("/api/time")["server"] != ""


def test_it_follows_a_step_of_the_wall_clock(site: Site) -> None:
    before = site.json("/api/time")["sent_ms"]
    site.clock.step = timedelta(hours=-1)
    assert site.json("/api/time")["sent_ms"] == before - 3_600_000


def test_it_is_received_before_it_is_sent(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    """By a clock that goes on by a second at each look."""
    looks = itertools.count()
    monkeypatch.setattr(site.shell.service.clock, "_utc", lambda: BEGUN + timedelta(seconds=next(looks)))
    said = site.json("/api/time")
    assert said["sent_ms"] - said["received_ms"] == pytest.approx(1_000)


def test_the_shape_is_in_the_api_s_description(site: Site) -> None:
    described = site.json("/api/openapi.json")["paths"]["/api/time"]["get"]["responses"]["200"]
    assert described["content"]["application/json"]["schema"]["$ref"].endswith("TimeOut")
