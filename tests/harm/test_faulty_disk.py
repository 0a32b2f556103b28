"""The disk fails for a while: the tracer injects faults into the server's calls. Refused in words, then well again."""

import os
import signal
import uuid
from pathlib import Path

import pytest

from tests.harm import traced
from tests.harm.examined import examine
from tests.harm.load import PROCEDURE, first_run, procedure
from tests.harm.server import Server
from tests.harm.wire import Line

FAULTS = {
    "an fsync that fails": ("fdatasync:error=EIO:when=40..60", 503, "The disk reported an error"),
    "a write that finds no room": ("pwrite64:error=ENOSPC:when=150..180", 507, "Make room"),
}
NOTES = 120


@pytest.mark.parametrize(("fault", "status", "words"), FAULTS.values(), ids=FAULTS)
def test_a_disk_that_fails_for_a_while_loses_nothing_acknowledged(
    tmp_path: Path, fault: str, status: int, words: str
) -> None:
    if why := traced.cannot_trace():
        pytest.skip(why)
    injecting = ["strace", "-f", "-o", "/dev/null", "-e", f"inject={fault}"]
    run = first_run(tmp_path / "data")
    with Server(tmp_path, {PROCEDURE: procedure()}, around=injecting) as server:
        with Line(server.port, timeout_s=60) as line:
            answers = {key: _note(line, run, key) for key in (str(uuid.uuid4()) for _ in range(NOTES))}
            assert line.get(f"/runs/{run}/desk").status == 200
        os.kill(server.pid(), signal.SIGKILL)
        assert server.process is not None
        server.process.wait(30)
        assert "Traceback" not in server.said()
    assert {each[0] for each in answers.values()} == {200, status}
    assert all(words in text for answered, text in answers.values() if answered != 200)
    assert list(answers.values())[-1][0] == 200, "it takes orders again without a restart"
    found = examine(tmp_path / "data")
    assert {key for key, (answered, _) in answers.items() if answered == 200} <= found.places.keys()
    assert found.faults == ()
    assert (found.gaps, found.halves) == (0, 0)


def _note(line: Line, run: int, key: str) -> tuple[int, str]:
    answer = line.post(f"/api/runs/{run}/orders", {"do": "note", "reason": "all well", "key": key})
    return answer.status, answer.text
