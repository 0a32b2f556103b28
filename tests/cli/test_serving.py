"""`leadline serve` and `leadline demo`: where they listen, what they refuse in words, and what the demo shows."""

import asyncio
import os
import shlex
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import httpx
import pytest
import uvicorn
from fastapi import FastAPI

from app.feed import Feed
from app.serving import _Server, bind
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
