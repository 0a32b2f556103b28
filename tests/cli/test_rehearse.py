"""`leadline rehearse`: what it starts, serves and prints, and what it refuses in words before it starts anything."""

import time
from pathlib import Path
from typing import Any

import httpx
import pytest

from app.core.events_rehearsal import ClockRuled, InjectSet, PlayersSet
from app.service.runs import Service
from tests.ports import free_port
from tests.served import WITHIN_S, called, served
from tests.service.making import SMALL, SetClock, store

SCRIPT = """\
rehearsal: mast
seed: 7
players: [EV2]
speed: 4
injects:
  - at: 0:05:00
    delay: {step: rig/2, by: 6 min, say: the hinge is stiff}
random: {seed: 3, count: 1}
"""


@pytest.fixture(autouse=True)
def files(tmp_path: Path) -> None:
    (tmp_path / "mast.yaml").write_bytes(SMALL)
    (tmp_path / "script.yaml").write_text(SCRIPT)


def test_finish_has_everybody_simulated_to_the_end_and_tells_the_outcome(tmp_path: Path) -> None:
    words = ("rehearse", "mast.yaml", "--script", "script.yaml", "--finish", "--data", "data")
    first, again = called(*words, folder=tmp_path), called(*words, folder=tmp_path)
    assert (first.returncode, first.stderr) == (0, "")
    assert "Run 1 of mast: everybody simulated, from seed 7.\nThe last step was done at 00:" in first.stdout
    assert "2 of 2 troubles took effect." in first.stdout
    assert again.stdout == first.stdout.replace("Run 1", "Run 2"), "the same seed does the same"
    other = called(*words, "--seed", 8, folder=tmp_path)
    assert other.stdout.splitlines()[1] != first.stdout.splitlines()[1]
    assert called("verify", "--data", "data", folder=tmp_path).returncode == 0


def test_it_serves_the_rehearsal_of_the_script_and_says_where_the_trainers_page_is(tmp_path: Path) -> None:
    words = ["rehearse", "mast.yaml", "--script", "script.yaml", "--data", "data", "--port", str(free_port())]
    with served(words, tmp_path) as server:
        assert server.address.endswith("/runs/1/desk")
        assert "Rehearsal, run 1, its simulated people from seed 7." in server.said
        assert server.process.stdout is not None
        trainer = server.process.stdout.readline().strip()
        assert trainer == f"The trainer's page is {server.address.removesuffix('desk')}trainer"
        assert httpx.get(trainer.split()[-1], timeout=WITHIN_S).status_code == 200
        assert (
            httpx.get(f"{server.address.split('/runs')[0]}/api/runs/1", timeout=WITHIN_S).json()["kind"] == "rehearsal"
        )
    with store(tmp_path) as opened:
        log = Service(opened, SetClock().server()).run(1).log
    assert [each.event for each in log if isinstance(each.event, PlayersSet)] == [PlayersSet(("EV2",), 7)]
    assert len([each for each in log if isinstance(each.event, InjectSet)]) == 2
    assert [each.event for each in log if isinstance(each.event, ClockRuled)] == [ClockRuled(4, 0)]


def test_the_server_has_simulated_people_do_what_is_theirs(tmp_path: Path) -> None:
    """At the highest speed the five minutes of the first step are over in three seconds."""
    words = ["rehearse", "mast.yaml", "--players", "all", "--speed", "120", "--seed", "1", "--port", str(free_port())]
    with served(words, tmp_path) as server:
        base = server.address.split("/runs")[0]
        marked: list[dict[str, Any]] = []
        until = time.monotonic() + WITHIN_S
        while not marked and time.monotonic() < until:
            time.sleep(0.1)
            events = httpx.get(f"{base}/api/runs/1/events", timeout=WITHIN_S).json()
            marked = [each for each in events if each["kind"] == "StepMarked"]
    assert marked[0]["by"] == "EV1 (simulated)"
    assert 200 < marked[0]["at_s"] < 600


def test_what_the_command_line_says_goes_before_the_script(tmp_path: Path) -> None:
    words = ["rehearse", "mast.yaml", "--script", "script.yaml", "--players", "EV1, EV2", "--speed", "0"]
    with served([*words, "--seed", "9", "--data", "data", "--port", str(free_port())], tmp_path):
        pass
    with store(tmp_path) as opened:
        state = Service(opened, SetClock().server()).run(1).state
    assert (state.rehearsal.players, state.rehearsal.seed) == (("EV1", "EV2"), 9)
    assert state.rehearsal.ruling.rate == 0


def test_without_a_script_it_is_a_plain_rehearsal(tmp_path: Path) -> None:
    with served(["rehearse", "mast.yaml", "--data", "data", "--port", str(free_port())], tmp_path) as server:
        assert "seed" not in server.said
    with store(tmp_path) as opened:
        assert len(Service(opened, SetClock().server()).run(1).log) == 1


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--script", "bad.yaml"), "bad.yaml:2:11: fault: “EV7” is not one of the crew in mast"),
        (("--players", "EV9"), "Nobody of this run is called EV9"),
        (("--speed", "500"), "The clock stands, or goes 0.25 to 120 times as fast."),
        (("--host", "192.168.1.7"), "127.0.0.1"),
        (("--script", "none.yaml"), "none.yaml can't be read"),
    ],
)
def test_what_is_wrong_is_a_sentence_and_no_run_is_started(
    tmp_path: Path, words: tuple[str, str], sentence: str
) -> None:
    (tmp_path / "bad.yaml").write_text("rehearsal: mast\nplayers: [EV7]\n")
    said = called("rehearse", "mast.yaml", *words, "--data", "data", "--port", free_port(), folder=tmp_path)
    assert said.returncode != 0
    assert sentence in said.stderr
    assert "Traceback" not in said.stderr
    if (tmp_path / "data").exists():
        with store(tmp_path) as opened:
            assert Service(opened, SetClock().server()).runs() == ()


def test_a_file_with_faults_is_not_rehearsed(tmp_path: Path) -> None:
    (tmp_path / "x.yaml").write_text("procedure: x\n")
    said = called("rehearse", "x.yaml", "--finish", "--data", "data", folder=tmp_path)
    assert said.returncode == 1
    assert "x.yaml can't be loaded." in said.stderr


def test_a_procedure_without_a_crew_has_nobody_to_simulate(tmp_path: Path) -> None:
    (tmp_path / "x.yaml").write_text(
        "procedure: x\ntitle: X\ntasks:\n  - {task: a, steps: [{do: wait, takes: 1 min}]}\n"
    )
    said = called("rehearse", "x.yaml", "--finish", "--data", "data", folder=tmp_path)
    assert said.returncode == 1
    assert "can't end this run" in said.stderr
