"""One stream for several runs, on a real server: each message names its run; what is wrong with one harms no other."""

from collections.abc import Iterator

import httpx
import pytest

from tests.served import Served, served
from tests.web.streams import Told, news, own, ready, serving, start, told


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    folder = tmp_path_factory.mktemp("merged")
    with served(serving(folder), folder) as found:
        yield found


@pytest.fixture
def client(server: Served) -> Iterator[httpx.Client]:
    with httpx.Client(base_url=server.address, timeout=10, headers=own(server)) as opened:
        yield opened


def first_of(client: httpx.Client, query: str, count: int, **headers: str) -> list[Told]:
    with client.stream("GET", f"/api/live{query}", headers=headers) as answer:
        assert answer.status_code == 200
        assert answer.headers["content-type"].startswith("text/event-stream")
        events = news(answer)
        return [next(events) for _ in range(count)]


def test_it_begins_with_the_state_of_each_run_and_of_home(client: httpx.Client) -> None:
    one, other = start(client), ready(client)
    states = first_of(client, f"?run={one}&run={other}&run=0&run={one}", 3)
    assert [(each.name, each.data["run"]) for each in states] == [("tick", 0), ("tick", one), ("tick", other)]
    assert [each.id for each in states] == ["0", "1", "3"]
    assert [each.data.get("seq") for each in states] == [None, 1, 3]
    assert states[1].data["figures"]["lead"]


def test_each_change_names_its_run_and_home_hears_of_all(client: httpx.Client) -> None:
    one, other = start(client), start(client)
    with client.stream("GET", f"/api/live?run={one}&run={other}&run=0") as answer:
        events = news(answer)
        for _ in range(3):
            next(events)
        client.post(f"/api/runs/{one}/orders", json={"do": "note", "reason": "one"})
        changes = {(each.data["run"], each.data["seq"]) for each in _changes(events, 2)}
        client.post(f"/api/runs/{other}/orders", json={"do": "note", "reason": "other"})
        client.post(f"/api/runs/{other}/orders", json={"do": "note", "reason": "other"})
        later = {(each.data["run"], each.id) for each in events_until(events, other, 3)}
    assert changes == {(0, 2), (one, 2)}
    assert (other, "3") in later
    assert (one, "3") not in later


def _changes(events: Iterator[Told], count: int) -> list[Told]:
    found: list[Told] = []
    while len(found) < count:
        found += [each for each in [next(events)] if each.name == "changed"]
    return found


def events_until(events: Iterator[Told], run: int, seq: int) -> Iterator[Told]:
    """The changes up to that of this run and seq."""
    for each in events:
        if each.name == "changed":
            yield each
            if (each.data["run"], each.data["seq"]) == (run, seq):
                return


def test_a_run_that_there_is_not_is_told_and_the_others_go_on(client: httpx.Client) -> None:
    run = start(client)
    with client.stream("GET", f"/api/live?run={run}&run=4711&run={2**53}") as answer:
        events = news(answer)
        state, none, nor = (next(events) for _ in range(3))
        assert (state.name, state.data["run"]) == ("tick", run)
        assert (none.name, none.data) == ("unknown", {"run": 4711})
        assert (nor.name, nor.data) == ("unknown", {"run": 2**53})
        client.post(f"/api/runs/{run}/orders", json={"do": "note", "reason": "still here"})
        assert next(each for each in events if each.name == "changed").data["run"] == run
        assert [next(events).name for _ in range(2)] == ["tick", "tick"]


def test_only_runs_that_there_are_not_is_a_stream_that_lives(client: httpx.Client) -> None:
    with client.stream("GET", "/api/live?run=4711") as answer:
        events = told(answer)
        assert [next(events).name for _ in range(2)] == ["unknown", "beat"]


@pytest.mark.parametrize("last", ["-1", "abc", str(2**70), "999999", ""])
def test_whatever_was_seen_last_it_begins_with_the_state(client: httpx.Client, last: str) -> None:
    run = start(client)
    (state,) = first_of(client, f"?run={run}", 1, **{"Last-Event-ID": last})
    assert (state.name, state.data["seq"]) == ("tick", 1)


def test_without_a_run_it_is_the_stream_of_home(client: httpx.Client) -> None:
    (state,) = first_of(client, "", 1)
    assert (state.name, state.data["run"]) == ("tick", 0)


@pytest.mark.parametrize("query", ["run=abc", "run=-1", f"run={2**70}", "&".join(f"run={run}" for run in range(33))])
def test_what_names_no_run_is_refused_in_words(client: httpx.Client, query: str) -> None:
    answer = client.get(f"/api/live?{query}")
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    assert "query.run" in answer.json()["detail"]
