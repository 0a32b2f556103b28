"""The live stream, on a real server: first the state, then every change and a tick each second, until the end."""

import itertools
import json
import signal
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import httpx
import pytest

from app.core.times import clock
from tests.served import Served, served
from tests.web.streams import Told, news, own, ready, serving, start, told


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    folder = tmp_path_factory.mktemp("live")
    with served(serving(folder), folder) as found:
        yield found


@pytest.fixture
def client(server: Served) -> Iterator[httpx.Client]:
    with httpx.Client(base_url=server.address, timeout=10, headers=own(server)) as opened:
        yield opened


def test_a_stream_begins_with_the_state_and_is_never_kept(client: httpx.Client) -> None:
    run = start(client)
    with client.stream("GET", f"/api/runs/{run}/live") as answer:
        assert answer.status_code == 200
        assert answer.headers["content-type"].startswith("text/event-stream")
        assert answer.headers["cache-control"] == "no-store"
        first = next(news(answer))
    assert (first.name, first.id) == ("tick", "1")
    assert first.data["seq"] == 1
    assert first.data["running"]
    assert first.data["figures"]["finish"] == clock(first.data["projected_finish_s"])
    assert first.data["lead_s"] == 0


@pytest.mark.parametrize("last", ["-1", "abc", str(2**70), "999999", ""])
def test_whatever_a_browser_says_it_saw_last_it_gets_the_whole_state(client: httpx.Client, last: str) -> None:
    run = start(client)
    with client.stream("GET", f"/api/runs/{run}/live", headers={"Last-Event-ID": last}) as answer:
        assert answer.status_code == 200
        assert next(news(answer)).data["figures"]["lead"]


def test_a_mark_is_followed_by_changed_with_its_seq(client: httpx.Client) -> None:
    run = ready(client)
    with client.stream("GET", f"/api/runs/{run}/live") as answer:
        events = news(answer)
        next(events)
        sent = time.monotonic()
        outcome = client.post(f"/api/runs/{run}/marks", json={"step": "go-out/1"}).json()
        change = next(each for each in events if each.name == "changed" and each.data["seq"] == outcome["seq"])
        took_s = time.monotonic() - sent
    assert (change.id, change.data["run"]) == (str(outcome["seq"]), run)
    assert took_s < 5


def test_another_runs_change_is_not_told(client: httpx.Client) -> None:
    mine, other = start(client), ready(client)
    with client.stream("GET", f"/api/runs/{mine}/live") as answer:
        events = news(answer)
        next(events)
        assert client.post(f"/api/runs/{other}/marks", json={"step": "go-out/1"}).status_code == 200
        changes = []
        for reason in ("mine", "mine too"):
            client.post(f"/api/runs/{mine}/orders", json={"do": "note", "reason": reason})
            changes.append(next(each for each in events if each.name == "changed").id)
    assert changes == ["2", "3"]


def test_it_ticks_each_second_and_the_clock_goes_on(client: httpx.Client) -> None:
    run = start(client)
    with client.stream("GET", f"/api/runs/{run}/live") as answer:
        events = news(answer)
        next(events)
        began, ticks, at_s = time.monotonic(), list[Told](), list[float]()
        for _ in range(4):
            ticks.append(next(events))
            at_s.append(time.monotonic())
        took_s = at_s[-1] - began
    assert {each.name for each in ticks} == {"tick"}
    elapsed = [each.data["elapsed_ms"] for each in ticks]
    assert elapsed == sorted(set(elapsed))
    assert elapsed[-1] - elapsed[0] == pytest.approx((at_s[-1] - at_s[0]) * 1_000, abs=1_000)
    assert 2 < took_s < 8


def test_a_figure_on_the_stream_is_the_figure_in_the_page(client: httpx.Client) -> None:
    run = start(client)
    with client.stream("GET", f"/api/runs/{run}/live") as answer:
        figures = next(news(answer)).data["figures"]
    page = client.get(f"/runs/{run}/desk").text
    for name in ("lead", "finish", "lead-EV1", "t-go-out/2"):
        assert f'data-fig="{name}">{figures[name]}<' in page


def test_an_ended_run_has_a_stream_whose_clock_stands(client: httpx.Client) -> None:
    run = start(client)
    client.post(f"/api/runs/{run}/orders", json={"do": "end", "reason": "rain"})
    with client.stream("GET", f"/api/runs/{run}/live") as answer:
        events = news(answer)
        first, second = next(events), next(events)
    assert not first.data["running"]
    assert first.data["elapsed_ms"] == second.data["elapsed_ms"]


def test_the_home_stream_tells_of_every_run(client: httpx.Client) -> None:
    run = ready(client)
    with client.stream("GET", "/api/live") as answer:
        events = news(answer)
        assert next(events).name == "tick"
        client.post(f"/api/runs/{run}/marks", json={"step": "go-out/1"})
        assert next(each for each in events if each.name == "changed")


def test_a_hostile_text_forges_no_event(client: httpx.Client) -> None:
    text = "one\n\nevent: changed\nid: 77\ndata: {}\n\n"
    body = json.dumps(
        {"procedure": "forge", "title": text, "crew": {"EV1": {"does": text}},
         "tasks": [{"task": "a", "title": text, "who": "EV1", "steps": [{"do": text, "takes": "1 min"}]}]}
    )  # fmt: skip
    loaded = client.post("/api/procedures", content=body, headers={"content-type": "application/yaml"})
    assert loaded.status_code == 201
    run = client.post("/api/runs", json={"procedure": "forge"}).json()["run"]
    with client.stream("GET", f"/api/runs/{run}/live") as answer:
        events = news(answer)
        assert [next(events).id for _ in range(3)] == ["1", "1", "1"]


def test_a_seventh_screen_and_more_do_not_hold_up_a_mark(client: httpx.Client, server: Served) -> None:
    run = ready(client)
    with ExitStack() as screens:
        for _ in range(12):
            one = screens.enter_context(httpx.Client(base_url=server.address, timeout=10, headers=own(server)))
            next(news(screens.enter_context(one.stream("GET", f"/api/runs/{run}/live"))))
        assert client.post(f"/api/runs/{run}/marks", json={"step": "go-out/1"}).status_code == 200


@pytest.mark.alone
@pytest.mark.parametrize("by", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_ends_the_server_at_once_with_twenty_streams_open(tmp_path: Path, by: signal.Signals) -> None:
    words = serving(tmp_path)
    with (
        served(words, tmp_path) as server,
        httpx.Client(base_url=server.address, timeout=20, headers=own(server)) as client,
    ):
        run = ready(client)
        ended: list[bool] = []
        begun = threading.Barrier(21)
        address = itertools.cycle([f"runs/{run}/live", f"live?run={run}&run=0", "live?run=4711"])

        def watch() -> None:
            with httpx.stream("GET", f"{server.address}api/{next(address)}", timeout=20) as answer:
                events = told(answer)
                next(events)
                begun.wait(20)
                ended.append(all(each.name in ("tick", "changed", "beat", "unknown") for each in events))

        screens = [threading.Thread(target=watch) for _ in range(20)]
        for each in screens:
            each.start()
        begun.wait(20)
        marked = client.post(f"/api/runs/{run}/marks", json={"step": "go-out/1"}).json()
        took_s = server.stop(by)
        for each in screens:
            each.join(10)
        assert ended == [True] * 20
        assert took_s < 2
        assert server.process.returncode in (0, -by, 128 + by)
        assert not list((tmp_path / "data").glob("*-wal")), "the store was not closed"
    with served(words, tmp_path) as server:
        log = httpx.get(f"{server.address}api/runs/{run}/events").json()
    assert log[-1]["seq"] == marked["seq"]
