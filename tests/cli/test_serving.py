"""`leadline serve` and `leadline demo`: where they listen, what they refuse in words, and what the demo shows."""

import asyncio
import os
import shlex
import signal
import socket
import subprocess
import sys
import threading
import time
from contextlib import suppress
from pathlib import Path

import httpx
import pytest
import uvicorn
from fastapi import FastAPI

from app.feed import Feed
from app.serving import _Server, bind
from app.web.keys import new_key
from tests.harm.streams import stream
from tests.pace import within
from tests.ports import free_port
from tests.served import LEADLINE, ROOT, WITHIN_S, called, environment, leadline, served
from tests.web.site import words


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.168.1.7", "example.org", ""])
def test_a_host_that_is_not_this_machine_is_refused(tmp_path: Path, host: str) -> None:
    for command in ("serve", "demo"):
        said = called(command, "--host", host, "--port", free_port(), folder=tmp_path)
        assert said.returncode == 1
        assert "127.0.0.1" in said.stderr
        assert "Traceback" not in said.stderr
        assert not (tmp_path / "leadline-data").exists()


def test_a_taken_port_is_a_sentence(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        said = called("serve", "--port", taken.getsockname()[1], folder=tmp_path)
    assert said.returncode == 1
    assert "Choose another with --port" in said.stderr
    assert "Traceback" not in said.stderr


def test_a_port_is_taken_from_the_first_moment_on(tmp_path: Path) -> None:
    """Before the server is ready, which takes a second, nobody else can take it, and who comes already waits."""
    with bind("127.0.0.1", 0) as mine:
        port = mine.getsockname()[1]
        said = called("serve", "--port", port, folder=tmp_path)
        assert said.returncode == 1
        assert "Choose another with --port" in said.stderr
        socket.create_connection(("127.0.0.1", port), 5).close()


@pytest.mark.parametrize("output", ["closed", "full", "unread"])
def test_a_server_whose_words_nobody_takes_serves_on(tmp_path: Path, output: str) -> None:
    port = free_port()
    redirected = {"closed": ">&-", "full": ">/dev/full", "unread": "| true"}[output]
    line = f"exec {shlex.join(LEADLINE)} serve --port {port} {redirected}"
    words = ["sh", "-c", line]
    with (tmp_path / "errors").open("w+") as errors:
        process = subprocess.Popen(words, cwd=tmp_path, env=environment(), stderr=errors, start_new_session=True)
        try:
            answer = until_answered(f"http://127.0.0.1:{port}/api/runs")
        finally:
            os.killpg(process.pid, signal.SIGTERM)
            process.wait(20)
        assert answer.status_code == 200
        assert (tmp_path / "errors").read_text() == ""


def until_answered(address: str) -> httpx.Response:
    until = time.monotonic() + WITHIN_S
    while True:
        try:
            return httpx.get(address, timeout=WITHIN_S)
        except httpx.TransportError:
            if time.monotonic() > until:
                raise
            time.sleep(0.05)


@pytest.mark.parametrize("words", [("schema",), ("plan", ROOT / "procedures/pump-changeout.yaml")])
def test_what_cannot_be_printed_is_a_sentence(tmp_path: Path, words: tuple[str | Path, ...]) -> None:
    with Path("/dev/full").open("w") as full:
        said = subprocess.run(
            [*LEADLINE, *map(str, words)],
            cwd=tmp_path,
            env=environment(),
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
        )
    assert said.returncode == 1
    assert said.stderr == "What was to be printed can't be written: No space left on device.\n"


def test_a_data_folder_in_use_is_a_sentence_that_names_who_has_it(tmp_path: Path) -> None:
    with served(["serve", "--port", str(free_port())], tmp_path) as first:
        said = leadline("serve", "--port", free_port(), folder=tmp_path)
        assert said.returncode != 0
        assert f"process {first.process.pid}" in said.stderr
        assert first.address.removesuffix("/") in said.stderr
        assert "Traceback" not in said.stderr + said.stdout
        assert httpx.get(first.address, timeout=WITHIN_S).status_code == 200


def test_serve_loads_the_procedures_and_makes_a_private_data_folder(tmp_path: Path) -> None:
    with served(["serve", "--port", str(free_port())], tmp_path) as server:
        assert "Coolant pump changeout" in words(httpx.get(server.address, timeout=WITHIN_S).text)
    data = tmp_path / "leadline-data"
    assert data.stat().st_mode & 0o777 == 0o700
    assert all(path.stat().st_mode & 0o077 == 0 for path in data.iterdir())


@pytest.mark.alone
def test_a_server_that_looked_ahead_stops_at_once_and_without_a_word(tmp_path: Path) -> None:
    with served(["serve", "--port", str(free_port())], tmp_path) as server:
        sent = {"procedure": "pump-changeout", "kind": "rehearsal", "key": new_key()}
        run = httpx.post(
            f"{server.address}api/runs", json=sent, headers={"Origin": server.address.removesuffix("/")}
        ).json()["run"]
        assert httpx.get(f"{server.address}api/runs/{run}/outlook", timeout=20).json()["forecast"]["draws"] == 10_000
        assert within(server.stop(signal.SIGTERM), 2)
        assert server.process.stderr is not None
        assert server.process.stderr.read() == ""


def many() -> httpx.Client:
    """For many at a time, each on a connection of its own. Making one takes longer than asking."""
    return httpx.Client(timeout=WITHIN_S, limits=httpx.Limits(max_connections=None))


SLOW_FILE = b",".join([b""] * 200) + b"\n"
"""A row of which 2,500 take a second or two to be refused."""


@pytest.mark.alone
def test_a_stop_with_screens_and_files_on_their_way_is_quick_and_without_a_word(tmp_path: Path) -> None:
    told: list[int] = []

    def send(address: str) -> None:
        headers = {"Origin": address.removesuffix("/"), "Content-Type": "text/csv"}
        with suppress(httpx.TransportError):  # Its connection was cut.
            sent = client.post(f"{address}api/procedures", content=SLOW_FILE * 2_500, headers=headers)
            told.append(sent.status_code)

    with many() as client, served(["serve", "--port", str(free_port())], tmp_path) as server:
        sent = {"procedure": "pump-changeout", "kind": "rehearsal", "key": new_key()}
        httpx.post(f"{server.address}api/runs", json=sent, headers={"Origin": server.address.removesuffix("/")})
        port = int(server.address.split(":")[2].removesuffix("/"))
        screens = [stream(port, "/api/live?run=1") for _ in range(50)]
        senders = [threading.Thread(target=send, args=(server.address,)) for _ in range(8)]
        for each in senders:
            each.start()
        time.sleep(1)
        assert within(server.stop(signal.SIGTERM), 2)
        assert server.process.stderr is not None
        assert server.process.stderr.read() == ""
        for each in senders:
            each.join()
        for screen in screens:
            screen.close()
    assert told.count(503) >= 4, "who waited is told so"
    assert called("verify", "--data", "leadline-data", folder=tmp_path).returncode == 0


def large() -> str:
    """A procedure in which looking ahead takes a while: 1,200 steps, and much that may be put off."""
    text = "procedure: large\ntitle: T\ncrew: {EV1: {does: x}, EV2: {does: x}}\nlimits: {finish: '40:00'}\ntasks:\n"
    for task in range(150):
        after = f"  after: [t{task // 2}]\n" if task else ""
        optional = f"  may_put_off: true\n  worth: {task % 9 + 1}\n" if task % 2 else ""
        steps = "".join(f"  - {{do: valve {step}, takes: [{step + 1} min, 9 min, 19 min]}}\n" for step in range(8))
        text += f"- task: t{task}\n  who: EV{task % 2 + 1}\n{after}{optional}  steps:\n{steps}"
    return text


@pytest.mark.alone
def test_a_stop_while_many_look_ahead_is_quick_and_without_a_word(tmp_path: Path) -> None:
    (tmp_path / "files").mkdir()
    (tmp_path / "files" / "large.yaml").write_text(large())
    told: list[int] = []

    def ask(address: str, number: int) -> None:
        asked = {"if": f"EV2 loses {number + 15} min"}
        with suppress(httpx.TransportError):
            told.append(client.get(f"{address}api/runs/1/what-if", params=asked).status_code)

    words = ["serve", "--port", str(free_port()), "--procedures", "files"]
    with many() as client, served(words, tmp_path) as server:
        sent = {"procedure": "large", "kind": "rehearsal", "key": new_key()}
        headers = {"Origin": server.address.removesuffix("/")}
        assert httpx.post(f"{server.address}api/runs", json=sent, headers=headers, timeout=WITHIN_S).status_code == 201
        asking = [threading.Thread(target=ask, args=(server.address, number)) for number in range(25)]
        for each in asking:
            each.start()
        time.sleep(1.5)
        assert within(server.stop(signal.SIGTERM), 2)
        assert server.process.stderr is not None
        assert server.process.stderr.read() == ""
        for each in asking:
            each.join()
    assert set(told) <= {200, 503}
    assert 503 in told, "who waits is told so"


@pytest.mark.alone
@pytest.mark.parametrize("by", [signal.SIGTERM, signal.SIGINT])
def test_a_stop_while_it_still_reads_its_procedures_is_quick(tmp_path: Path, by: signal.Signals) -> None:
    (tmp_path / "files").mkdir()
    for number in range(12):
        (tmp_path / "files" / f"{number}.csv").write_bytes(SLOW_FILE * 2_500)
    words = [*LEADLINE, "serve", "--port", str(free_port()), "--procedures", "files"]
    with subprocess.Popen(
        words, cwd=tmp_path, env=environment(), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        until = time.monotonic() + WITHIN_S
        while not (tmp_path / "leadline-data" / "leadline.secret").exists() and time.monotonic() < until:
            time.sleep(0.05)
        time.sleep(1.5)
        began = time.monotonic()
        process.send_signal(by)
        said = process.communicate(timeout=WITHIN_S)
        assert within(time.monotonic() - began, 2)
    assert said == ("", "")
    assert process.returncode != 0 or by == signal.SIGINT


def test_a_second_server_is_refused_before_what_it_would_stand_on_is_loaded(tmp_path: Path) -> None:
    with served(["serve", "--port", str(free_port())], tmp_path) as server:
        words = [sys.executable, "-X", "importtime", *LEADLINE[1:], "serve", "--port", str(free_port())]
        second = subprocess.run(
            words, cwd=tmp_path, env=environment(), capture_output=True, text=True, timeout=WITHIN_S, check=False
        )
        assert second.returncode == 1
        assert f"(process {server.process.pid} at {server.address.rstrip('/')}," in second.stderr
        loaded = {line.rpartition("|")[2].strip() for line in second.stderr.splitlines() if "import time:" in line}
        assert "app.store.owner" in loaded
        assert not loaded & {"fastapi", "uvicorn", "app.main"}


def test_serve_on_the_other_loopback_prints_an_address_that_works(tmp_path: Path) -> None:
    with socket.socket(socket.AF_INET6) as probe:
        try:
            probe.bind(("::1", 0))
        except OSError:
            pytest.skip("this machine has no IPv6 loopback")
    with served(["serve", "--host", "::1", "--port", str(free_port())], tmp_path) as server:
        assert server.address.startswith("http://[::1]:")
        assert httpx.get(server.address, timeout=WITHIN_S).status_code == 200


def test_the_demo_prints_an_address_and_shows_what_there_is_to_show(tmp_path: Path) -> None:
    with served(["demo", "--port", str(free_port())], tmp_path) as server:
        run = int(server.address.split("/runs/")[1].split("/")[0])
        base = server.address.split("/runs/")[0]
        with httpx.Client(base_url=base, timeout=WITHIN_S) as client:
            state = client.get(f"/api/runs/{run}").json()
            board = words(client.get(f"/runs/{run}/lead").text)
            later = client.get(f"/api/runs/{run}").json()
        assert state["kind"] == "rehearsal"
        assert 105 * 60 <= state["at_s"] < 3 * 3600
        assert later["at_s"] >= state["at_s"]
        leads = [row["lead_s"] for row in state["crew"].values()]
        assert max(leads) > 60, "a person ahead"
        assert min(leads) < -60, "a person behind"
        assert any(offer["eligible"] for offer in state["get_ahead"]), "a get-ahead item on offer"
        assert {step["id"]: step["state"] for step in state["steps"]}["bring-spare/2"] == "under way"
        assert "waiting now" in board, "a hold waiting"
        assert "EV1: no answer yet" in board


def test_a_demo_on_a_taken_port_takes_another(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with served(["demo", "--port", str(port)], tmp_path) as server:
            assert f":{port}/" not in server.address


@pytest.mark.alone
@pytest.mark.parametrize("by", [signal.SIGINT, signal.SIGTERM])
def test_a_demo_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, by: signal.Signals) -> None:
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    monkeypatch.setenv("TMPDIR", str(scratch))
    with served(["demo", "--port", str(free_port())], tmp_path) as server:
        assert list(scratch.glob("leadline-demo-*"))
        assert within(server.stop(by), 2)
        assert server.process.stderr is not None
        assert "Traceback" not in server.process.stderr.read()
    assert not list(scratch.glob("leadline-demo-*"))
    assert not (tmp_path / "leadline-data").exists()


def test_a_signal_between_finding_a_queue_empty_and_waiting_for_it_ends_the_stream_too() -> None:
    application = FastAPI()
    server = _Server(uvicorn.Config(application), application, lambda: None)

    class Interrupted(asyncio.Queue[bytes | None]):
        """A signal's handler may run between any two instructions: here between these."""

        def empty(self) -> bool:
            found = super().empty()
            if not server.should_exit:
                server.handle_exit(signal.SIGTERM, None)
            return found

    async def heard() -> list[bytes]:
        server._loop = asyncio.get_running_loop()
        feed = application.state.feed = Feed()
        screen = feed.open([1])
        screen._queue = Interrupted()
        async with asyncio.timeout(10):
            return [message async for message in screen.messages()]

    assert asyncio.run(heard()) == []
