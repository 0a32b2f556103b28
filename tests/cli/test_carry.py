"""`leadline carry`: the procedure file for the next outing, from the command line."""

import re
from pathlib import Path

import pytest

from app.core.commands import MarkStep
from app.reading.procedure_reader import read_procedure
from app.service.runs import Service
from tests.served import called
from tests.service.making import SMALL, SetClock, done, sender, small_run, store

NEXT = b"""\
procedure: lamps
title: Lamps
crew: {EV2: {does: Right}}
tasks:
  - {task: lamp, who: EV2, steps: [{do: Screw it in, takes: 5 min}]}
"""


@pytest.fixture
def run(tmp_path: Path) -> int:
    """A run with one step done, in a data folder that nobody has open."""
    with store(tmp_path) as opened:
        service = Service(opened, SetClock().server())
        started = small_run(service)
        service.order(started, MarkStep("rig/1"), sender()).result()
    return started


def test_what_a_run_left_is_printed_and_passes_check(tmp_path: Path, run: int) -> None:
    said = called("carry", run, "--data", "data", folder=tmp_path)
    assert (said.returncode, said.stderr) == (0, "")
    made = read_procedure(said.stdout).procedure
    assert made is not None
    assert [task.id for task in made.tasks] == ["rig", "wire", "paint"]
    head = re.search(r"^# Log head (2:[0-9a-f]{64})$", said.stdout, re.M)
    assert head is not None
    assert called("verify", run, "--head", head[1], "--data", "data", folder=tmp_path).returncode == 0
    (tmp_path / "next.yaml").write_text(said.stdout)
    checked = called("check", "next.yaml", folder=tmp_path)
    assert checked.returncode == 0, checked.stdout
    assert "fault" not in checked.stdout


def test_the_file_is_written_and_what_is_there_is_kept_unless_it_may_be_replaced(tmp_path: Path, run: int) -> None:
    words = ("carry", run, "--data", "data", "--to", "next.yaml")
    first = called(*words, folder=tmp_path)
    assert (first.returncode, first.stdout) == (0, "next.yaml written\n")
    made = (tmp_path / "next.yaml").read_bytes()
    assert read_procedure(made).procedure is not None
    (tmp_path / "next.yaml").write_text("mine")
    again = called(*words, folder=tmp_path)
    assert again.returncode == 2
    assert "--replace" in again.stderr
    assert (tmp_path / "next.yaml").read_text() == "mine"
    assert called(*words, "--replace", folder=tmp_path).returncode == 0
    assert read_procedure((tmp_path / "next.yaml").read_bytes()).procedure is not None


def test_it_is_put_at_the_head_of_the_next_outings_own_file(tmp_path: Path, run: int) -> None:
    (tmp_path / "lamps.yaml").write_bytes(NEXT)
    said = called("carry", run, "--onto", "lamps.yaml", "--data", "data", folder=tmp_path)
    assert said.returncode == 0, said.stderr
    made = read_procedure(said.stdout).procedure
    assert made is not None
    assert (made.id, [task.id for task in made.tasks]) == ("lamps", ["rig", "wire", "paint", "lamp"])
    assert "# It stands at the head of lamps.\n" in said.stdout
    (tmp_path / "again.yaml").write_bytes(SMALL)
    again = called("carry", run, "--onto", "again.yaml", "--data", "data", folder=tmp_path)
    assert "# Tasks of that file that gave way to what is left of the same work: rig, wire, paint.\n" in again.stdout


def test_what_can_not_be_made_is_a_sentence(tmp_path: Path, run: int) -> None:
    (tmp_path / "bad.yaml").write_bytes(NEXT.replace(b"5 min", b"5"))
    cases = {
        ("carry", run + 1): (1, "no run"),
        ("carry", run, "--onto", "bad.yaml"): (1, "bad.yaml:5:"),
        ("carry", run, "--onto", "none.yaml"): (2, "none.yaml can't be read"),
        ("carry", run, "--to", "next.csv"): (2, "leadline convert"),
    }
    for words, (code, sentence) in cases.items():
        said = called(*words, "--data", "data", folder=tmp_path)
        assert (said.returncode, said.stdout) == (code, ""), words
        assert sentence in said.stderr
        assert "Traceback" not in said.stderr


def test_a_run_that_left_nothing_is_a_sentence(tmp_path: Path) -> None:
    only = b"procedure: lamps\ntitle: Lamps\ntasks: [{task: lamp, steps: [{do: Look, takes: 5 min}]}]\n"
    with store(tmp_path) as opened:
        service = Service(opened, SetClock().server())
        run = service.start_run(service.shelf.load(only, "lamps.yaml").hash, "rehearsal", sender())
        done(service, run, "lamp/1")
    said = called("carry", run, "--data", "data", folder=tmp_path)
    assert (said.returncode, said.stdout) == (1, "")
    assert f"Run {run} leaves nothing" in said.stderr
