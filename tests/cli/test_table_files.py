"""Tables on the command line: check, convert, template, load and plan take them as they take YAML."""

import json
from pathlib import Path

import pytest

from app.reading.files import read_file
from app.writing.template import template
from tests.reading.workbooks import SMALL as ROWS
from tests.reading.workbooks import set_in, workbook
from tests.served import called
from tests.service.making import SAMPLES, SMALL

SAMPLE = SAMPLES / "pump-changeout.yaml"


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_file_converted_there_and_back_says_the_same(tmp_path: Path, kind: str) -> None:
    there = called("convert", SAMPLE, "--to", f"pump.{kind}", folder=tmp_path)
    assert there.returncode == 0, there.stderr
    back = called("convert", f"pump.{kind}", "--to", "pump.yaml", folder=tmp_path)
    assert back.returncode == 0, back.stderr
    assert read_file((tmp_path / "pump.yaml").read_bytes()).procedure == read_file(SAMPLE.read_bytes()).procedure
    assert read_file((tmp_path / f"pump.{kind}").read_bytes()).procedure == read_file(SAMPLE.read_bytes()).procedure


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_check_and_plan_take_a_table(tmp_path: Path, kind: str) -> None:
    assert called("convert", SAMPLE, "--to", f"pump.{kind}", folder=tmp_path).returncode == 0
    said = called("check", f"pump.{kind}", folder=tmp_path)
    assert said.returncode == 0
    assert "sound, 39 steps" in said.stdout
    plans = [called("plan", path, "--json", folder=tmp_path).stdout for path in (SAMPLE, f"pump.{kind}")]
    assert json.loads(plans[0]) == json.loads(plans[1])


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_the_template_passes_check(tmp_path: Path, kind: str) -> None:
    assert called("template", "--to", f"t.{kind}", folder=tmp_path).returncode == 0
    said = called("check", f"t.{kind}", folder=tmp_path)
    assert said.returncode == 0
    assert "remark" not in said.stdout


def test_project_takes_a_table_with_the_seed_that_a_server_has(tmp_path: Path) -> None:
    (tmp_path / "m.csv").write_text("step,at\ngo-out/1,0:11\n")
    assert called("convert", SAMPLE, "--to", "pump.csv", folder=tmp_path).returncode == 0
    assert called("convert", "pump.csv", "--to", "pump.yaml", folder=tmp_path).returncode == 0
    words = ("--marks", "m.csv", "--at", "0:20", "--if", "EV2 loses 15 min", "--json")
    table, text = (called("project", f"pump.{kind}", *words, folder=tmp_path) for kind in ("csv", "yaml"))
    assert table.returncode == 0, table.stderr
    assert json.loads(table.stdout) == json.loads(text.stdout)


def test_faults_are_told_by_cell(tmp_path: Path) -> None:
    (tmp_path / "bad.xlsx").write_bytes(workbook(set_in(ROWS, 5, 5, "8")))
    (tmp_path / "bad.csv").write_bytes(template("csv").replace(b",20 min,", b",20,"))
    said = called("check", "bad.xlsx", "bad.csv", folder=tmp_path)
    assert said.returncode == 1
    assert "bad.xlsx:Steps!E5: fault: “8” does not say its unit." in said.stdout
    assert "bad.csv:29:" in said.stdout
    assert ": fault: cell E29: “20” does not say its unit." in said.stdout


def test_a_library_takes_tables(tmp_path: Path) -> None:
    (tmp_path / "outing.csv").write_bytes(template("csv"))
    (tmp_path / "outing.xlsx").write_bytes(template("xlsx"))
    said = called("load", "outing.csv", "outing.xlsx", "--data", "data", folder=tmp_path)
    assert said.returncode == 0, said.stderr
    first, second = said.stdout.splitlines()
    assert "loaded as revision" in first
    assert "already there as revision" in second
    assert first.split()[-1] == second.split()[-1]


def test_nothing_is_written_over_unless_that_is_said(tmp_path: Path) -> None:
    (tmp_path / "mast.yaml").write_bytes(SMALL)
    (tmp_path / "mast.csv").write_text("mine")
    said = called("convert", "mast.yaml", "--to", "mast.csv", folder=tmp_path)
    assert said.returncode == 2
    assert "--replace" in said.stderr
    assert (tmp_path / "mast.csv").read_text() == "mine"
    assert called("convert", "mast.yaml", "--to", "mast.csv", "--replace", folder=tmp_path).returncode == 0
    assert (tmp_path / "mast.csv").read_text() != "mine"


def test_what_cannot_be_written_is_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "mast.yaml").write_bytes(SMALL)
    (tmp_path / "bad.yaml").write_text("title: x\n")
    for words in (
        ("convert", "mast.yaml", "--to", "mast.pdf"), ("convert", "mast.yaml", "--to", "no/where.csv"),
        ("template", "--to", "t.yaml"), ("convert", "bad.yaml", "--to", "x.csv"),
        ("convert", "no.csv", "--to", "x.csv"),
    ):  # fmt: skip
        said = called(*words, folder=tmp_path)
        assert said.returncode in (1, 2)
        assert said.stderr
        assert "Traceback" not in said.stderr
    assert not (tmp_path / "x.csv").exists()
