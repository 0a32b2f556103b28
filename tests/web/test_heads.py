"""The head of the log is on everything that leaves the server, the same everywhere, and verifies."""

import re
from functools import partial

import pytest

from app.store.verifying import verify
from tests.web.site import Site, words

HEAD = re.compile(r"\b([0-9]+:[0-9a-f]{64})\b")


@pytest.fixture
def run(site: Site) -> int:
    """A run with some events."""
    started = site.start()
    site.clock.at_s += 60
    site.done(started, "rig/1")
    return started


def last_head(site: Site, run: int) -> str:
    last = site.json(f"/api/runs/{run}/events")[-1]
    return f"{last['seq']}:{last['chain']}"


@pytest.mark.parametrize("page", ["log", "handover", "handover?at=0:00:30", "carried.yaml", "log?find=nothing"])
def test_a_page_that_is_kept_shows_the_head_and_how_to_use_it(site: Site, run: int, page: str) -> None:
    said = words(site.page(f"/runs/{run}/{page}"))
    assert HEAD.findall(said) == [last_head(site, run)]
    assert "Keep this elsewhere" in said
    assert f"leadline verify {run} --head" in said


@pytest.mark.parametrize("page", ["carried.yaml", "carried.yaml?at=0:00:30"])
def test_a_file_has_the_head_in_a_header_too(site: Site, run: int, page: str) -> None:
    assert site.get(f"/runs/{run}/{page}").headers["X-Leadline-Head"] == last_head(site, run)


@pytest.mark.parametrize("address", ["", "?at=0:00:30", "/events", "/events?after=1", "/events?after=9", "/carried"])
def test_the_api_has_the_head_in_a_header(site: Site, run: int, address: str) -> None:
    answer = site.get(f"/api/runs/{run}{address}")
    assert answer.status_code == 200
    assert answer.headers["X-Leadline-Head"] == last_head(site, run)


def test_the_api_has_the_head_beside_the_state_and_it_moves_with_the_log(site: Site, run: int) -> None:
    before = site.json(f"/api/runs/{run}")["head"]
    assert before == last_head(site, run)
    site.order(run, "note", reason="one more")
    after = site.json(f"/api/runs/{run}")["head"]
    assert after == last_head(site, run)
    assert int(after.split(":")[0]) == int(before.split(":")[0]) + 1
    for head in (before, after):
        found = site.shell.service.store.read(partial(verify, run=run, head=head))
        assert (found.fault, found.kept_at) == (None, int(head.split(":")[0]))
