"""`leadline durations`: past runs and better durations, from the command line."""

import json
from pathlib import Path

import pytest

from app.reading.procedure_reader import read_procedure
from app.service.runs import Service
from tests.served import called
from tests.service.making import SetClock, store
from tests.service.past_runs import MARKS, past_run, past_runs
from tests.service.test_durations import STEP_KEYS


@pytest.fixture
def runs(tmp_path: Path) -> tuple[int, ...]:
    """Three runs in a data folder that nobody has open."""
    clock = SetClock()
    with store(tmp_path) as opened:
        return past_runs(Service(opened, clock.server()), clock)


@pytest.mark.usefixtures("runs")
def test_the_table_has_a_line_for_each_step_and_a_sentence_for_each_proposal(tmp_path: Path) -> None:
    said = called("durations", "mast", "--data", "data", folder=tmp_path)
    assert (said.returncode, said.stderr) == (0, "")
    lines = said.stdout.splitlines()
    assert lines[0] == "Mast work: 3 of 3 runs asked"
    rig = next(line for line in lines if line.startswith("rig/1 "))
    assert " ".join(rig.split()) == "rig/1 5m 3 6m 20s 6m 04s to 6m 36s 1.27 4m 45s, 5m 50s, 9m"
    reason = next(line for line in lines if line.startswith("rig/1: "))
    assert "21 % longer than the plan's median of 5m 15s; weighed 0.80 to the plan's 0.20, the median is" in reason
    assert "sweep/1: without runs 3, 2, 1: not marked" in lines
    assert "ASTIN Bulletin 4 (1967)" in said.stdout
    assert next(line for line in lines if line.startswith("sweep/1 ")).split()[-2:] == ["as", "planned"]


@pytest.mark.usefixtures("runs")
def test_runs_are_chosen_by_kind_and_by_number(tmp_path: Path) -> None:
    for words, asked in (((), [3, 2, 1]), (("--kind", "live"), [3]), (("--run", 1, "--run", 2), [2, 1])):
        said = called("durations", "mast", *words, "--json", "--data", "data", folder=tmp_path)
        report = json.loads(said.stdout)
        assert [each["run"] for each in report["runs"] if each["asked"]] == asked
        assert all(each.keys() == STEP_KEYS for each in report["steps"])


def test_simulated_people_are_left_out_and_that_is_said(tmp_path: Path) -> None:
    clock = SetClock()
    with store(tmp_path) as opened:
        past_run(Service(opened, clock.server()), clock, MARKS[0], players=("EV1",))
    said = called("durations", "mast", "--data", "data", folder=tmp_path).stdout
    assert "What simulated people did is left out (run 1)" in said
    again = called("durations", "mast", "--simulated", "--data", "data", folder=tmp_path).stdout
    assert "left out" not in again
    assert "rig/1: 1 run" in again


@pytest.mark.usefixtures("runs")
def test_the_difference_is_printed_and_the_file_is_written_and_loads(tmp_path: Path) -> None:
    words = ("durations", "mast", "--data", "data", "--step", "rig/1")
    shown = called(*words, "--propose", folder=tmp_path)
    assert shown.returncode == 0, shown.stderr
    changed = [line for line in shown.stdout.splitlines() if line[0] in "+-"]
    assert changed[2:] == [
        "-      - {do: Open the box, takes: 5 min}",
        "+      - {do: Open the box, takes: [4 min 45 s, 5 min 50 s, 9 min]}",
    ]
    assert not (tmp_path / "next.yaml").exists()
    written = called(*words, "--write", "next.yaml", folder=tmp_path)
    assert (written.returncode, written.stdout) == (0, "next.yaml written\n")
    made = read_procedure((tmp_path / "next.yaml").read_bytes()).procedure
    assert made is not None
    assert made.steps[0].takes.likely_s == 350
    assert called("load", "next.yaml", "--data", "data", folder=tmp_path).returncode == 0


@pytest.mark.usefixtures("runs")
def test_all_proposals_are_written_where_no_step_is_named(tmp_path: Path) -> None:
    called("durations", "mast", "--data", "data", "--write", "next.yaml", folder=tmp_path)
    made = read_procedure((tmp_path / "next.yaml").read_bytes()).procedure
    assert made is not None
    assert [step.id for step in made.steps if step.takes.pessimistic_s is not None] == [
        *("rig/1", "rig/2", "wire/1", "paint/1")
    ]


@pytest.mark.usefixtures("runs")
def test_a_file_that_is_there_is_kept_unless_it_may_be_replaced(tmp_path: Path) -> None:
    (tmp_path / "next.yaml").write_text("mine")
    words = ("durations", "mast", "--data", "data", "--write", "next.yaml")
    refused = called(*words, folder=tmp_path)
    assert refused.returncode == 2
    assert "--replace" in refused.stderr
    assert (tmp_path / "next.yaml").read_text() == "mine"
    assert called(*words, "--replace", folder=tmp_path).returncode == 0


@pytest.mark.usefixtures("runs")
def test_what_can_not_be_done_is_a_sentence(tmp_path: Path) -> None:
    cases = {
        ("durations", "pole"): (1, "no revision in the library"),
        ("durations", "mast", "--run", 9): (1, "Run 9 is no run of mast"),
        ("durations", "mast", "--kind", "dry"): (1, "live, rehearsal or both"),
        ("durations", "mast", "--propose", "--step", "rig/9"): (1, "no step rig/9"),
        ("durations", "mast", "--propose", "--step", "sweep/1"): (1, "the plan stands"),
        ("durations", "mast", "--write", "next.csv"): (2, "leadline convert"),
    }
    for words, (code, sentence) in cases.items():
        said = called(*words, "--data", "data", folder=tmp_path)
        assert (said.returncode, said.stdout) == (code, ""), (words, said.stdout)
        assert sentence in said.stderr, words
        assert "Traceback" not in said.stderr
