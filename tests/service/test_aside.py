"""The process aside: it answers as this one would, is started anew when it dies, and goes when the server goes."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from app.core.outlook import Ahead, outlook
from app.core.situation import Prepared, Situation
from app.core.state import EMPTY
from app.reading.procedure_reader import read_procedure
from app.service.aside import NICE, Aside
from app.service.far import NeedsProcedure, draw, far_outlook
from tests.service.making import SAMPLES

SAMPLE = read_procedure((SAMPLES / "pump-changeout.yaml").read_bytes()).procedure
HERE = Path(__file__).parent.parent.parent


def die() -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def is_there(pid: int) -> bool:
    try:
        return "Z" not in Path(f"/proc/{pid}/stat").read_text().split(")")[1][:3]
    except OSError:
        return False


def test_it_answers_as_this_process_would() -> None:
    assert SAMPLE is not None
    far = Aside()
    with pytest.raises(NeedsProcedure):
        far.call(far_outlook, "made", None, EMPTY, 600)
    found = far.call(far_outlook, "made", SAMPLE, EMPTY, 600)
    here = outlook(Situation(Prepared(SAMPLE), EMPTY, 600), draw)
    assert isinstance(found, Ahead)
    assert (found.forecast, found.options, found.chances, found.chain) == (
        here.forecast,
        here.options,
        here.chances,
        here.chain,
    )
    assert far.call(far_outlook, "made", None, EMPTY, 600) == found


def test_it_is_another_process_that_stands_back() -> None:
    far = Aside()
    assert far.call(os.getpid) != os.getpid()
    assert far.call(os.nice, 0) == min(19, os.nice(0) + NICE)


def test_when_it_dies_the_next_call_is_answered_by_a_new_one() -> None:
    far = Aside()
    first = far.call(os.getpid)
    os.kill(first, signal.SIGKILL)
    second = far.call(os.getpid)
    assert second not in (first, os.getpid())


def test_what_kills_it_every_time_is_worked_out_here() -> None:
    """The function itself would end this process too, so one is taken that tells the two apart."""
    far = Aside()
    assert far.call(_dies_aside, os.getpid()) == os.getpid()


def _dies_aside(server: int) -> int:
    if os.getpid() != server:
        die()
    return os.getpid()


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="reads /proc to see whether a process is there")
@pytest.mark.parametrize("sent", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT])
def test_it_goes_when_the_server_goes_however_that_is(sent: signal.Signals) -> None:
    code = (
        # Begun in the background of a shell, a process is deaf to SIGINT until it says otherwise.
        "import os, signal, time\nfrom app.service.aside import aside\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "if __name__ == '__main__':\n    print(aside().call(os.getpid), flush=True)\n    time.sleep(60)\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=HERE
    ) as made:
        assert made.stdout is not None
        far = int(made.stdout.readline())
        assert is_there(far)
        made.send_signal(sent)
        made.wait(10)
        until = time.monotonic() + 5
        while is_there(far) and time.monotonic() < until:
            time.sleep(0.02)
        assert not is_there(far)
