"""A server that is stopped: within two seconds, without a word, whatever is under way."""

import signal
import subprocess
import threading
import time
from contextlib import suppress
from pathlib import Path

import httpx
import pytest

from app.web.keys import new_key
from tests.harm.streams import stream
from tests.pace import within
from tests.ports import free_port
from tests.served import LEADLINE, WITHIN_S, called, environment, served


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
