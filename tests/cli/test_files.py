"""The commands that read files and print: check, schema, plan, project. No server is needed for any of them."""

import json
from pathlib import Path

import jsonschema
import pytest

from tests.served import called, leadline
from tests.service.making import SAMPLES, SMALL

SAMPLE = SAMPLES / "pump-changeout.yaml"
PLAN_STEP = {"id", "start_s", "finish_s", "late_start_s", "late_finish_s", "float_s", "critical"}
OFFER = {"task", "who", "eligible", "reason", "lead_after_s", "finish_after_s"}


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "mast.yaml"
    path.write_bytes(SMALL)
    return path


def marks(folder: Path, *rows: str) -> Path:
    path = folder / "marks.csv"
    path.write_text("\n".join(["step,at", *rows]) + "\n")
    return path


def test_check_says_that_a_sound_file_is_sound(file: Path) -> None:
    said = leadline("check", file, SAMPLE, folder=file.parent)
    assert said.returncode == 0
    assert f"{file}: sound, 6 steps, plan finish 00:27:00" in said.stdout
    assert said.stderr == ""


def test_check_lists_every_fault_of_every_file_with_its_place(file: Path) -> None:
    file.write_bytes(SMALL.replace(b"5 min", b"5").replace(b"after: [rig]", b"after: [rigg]"))
    other = file.with_name("other.yaml")
    other.write_text("procedure: [\n")
    said = called("check", file, other, SAMPLE, folder=file.parent)
    assert said.returncode == 1
    assert f"{file}:10:" in said.stdout
    assert f"{file}:15:" in said.stdout
    assert f"{other}:" in said.stdout
    assert f"{SAMPLE}: sound" in said.stdout
    assert "2 of 3 files can't be loaded." in said.stderr


def test_a_file_that_cannot_be_read_is_a_sentence(tmp_path: Path) -> None:
    for command in ("check", "plan"):
        for path in (tmp_path / "nothing.yaml", tmp_path):
            said = called(command, path, folder=tmp_path)
            assert said.returncode == 2
            assert said.stderr.startswith(f"{path} can't be read: ")
            assert "Traceback" not in said.stderr


def test_schema_is_a_json_schema_that_takes_the_sample(tmp_path: Path) -> None:
    said = called("schema", folder=tmp_path)
    assert said.returncode == 0
    schema = json.loads(said.stdout)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    jsonschema.Draft202012Validator.check_schema(schema)


def test_plan_has_the_fixed_json_form(file: Path) -> None:
    said = called("plan", file, "--json", folder=file.parent)
    assert said.returncode == 0
    plan = json.loads(said.stdout)
    assert set(plan) == {"plan_finish_s", "steps"}
    assert plan["plan_finish_s"] == 1_620
    assert all(set(step) == PLAN_STEP for step in plan["steps"])
    paint = plan["steps"][-1]
    assert paint == {
        "id": "paint/1", "start_s": 900, "finish_s": 1_500, "late_start_s": 1_020, "late_finish_s": 1_620,
        "float_s": 120, "critical": False,
    }  # fmt: skip
    assert "sweep/1" not in {step["id"] for step in plan["steps"]}


def test_plan_in_words_says_the_finish_and_what_is_critical(file: Path) -> None:
    said = called("plan", file, folder=file.parent).stdout
    assert "plan finish 00:27:00" in said
    assert [line.split()[-1] for line in said.splitlines() if line.startswith(("rig/1", "wire/2"))] == ["critical"] * 2
    assert "2m" in next(line for line in said.splitlines() if line.startswith("paint/1"))


def test_project_has_the_fixed_json_form(file: Path) -> None:
    rows = marks(file.parent, "rig/1,0:06", "rig/2,0:15:30")
    said = called("project", file, "--marks", rows, "--at", "0:16:00", "--json", folder=file.parent)
    assert said.returncode == 0
    found = json.loads(said.stdout)
    assert set(found) == {
        "at_s", "plan_finish_s", "projected_finish_s", "lead_s", "crew", "steps", "get_ahead",
    }  # fmt: skip
    assert (found["at_s"], found["plan_finish_s"], found["projected_finish_s"], found["lead_s"]) == (
        960, 1_620, 1_650, -30,
    )  # fmt: skip
    assert found["crew"] == {"EV1": {"lead_s": -30, "next": "paint/1"}, "EV2": {"lead_s": -30, "next": "wire/1"}}
    assert all(set(step) == {"id", "state", "start_s", "finish_s"} for step in found["steps"])
    assert found["steps"][0] == {"id": "rig/1", "state": "done", "start_s": 0, "finish_s": 360}
    assert [set(offer) for offer in found["get_ahead"]] == [OFFER]
    assert found["get_ahead"][0]["eligible"] is False
    assert "behind" in found["get_ahead"][0]["reason"]


def test_project_says_null_for_a_person_with_nothing_left(file: Path) -> None:
    rows = marks(file.parent, "rig/1,0:05", "rig/2,0:15", "paint/1,0:20")
    said = called("project", file, "--marks", rows, "--at", "0:20", "--json", folder=file.parent)
    assert json.loads(said.stdout)["crew"]["EV1"] == {"lead_s": 300, "next": None}


def test_marks_later_than_the_asked_moment_are_left_out_and_that_is_said(file: Path) -> None:
    rows = marks(file.parent, "rig/1,0:05", "rig/2,0:15")
    early = called("project", file, "--marks", rows, "--at", "0:14:59", "--json", folder=file.parent)
    assert json.loads(early.stdout)["steps"][1]["state"] == "under way"
    assert "1 mark after 00:14:59 left out" in early.stderr
    late = called("project", file, "--marks", rows, "--at", "0:15", "--json", folder=file.parent)
    assert json.loads(late.stdout)["steps"][1]["state"] == "done"
    assert late.stderr == ""


def test_no_marks_at_zero_is_the_plan(tmp_path: Path) -> None:
    rows = marks(tmp_path)
    found = json.loads(called("project", SAMPLE, "--marks", rows, "--at", "0:00", "--json", folder=tmp_path).stdout)
    plan = json.loads(called("plan", SAMPLE, "--json", folder=tmp_path).stdout)
    assert found["projected_finish_s"] == found["plan_finish_s"] == plan["plan_finish_s"]
    assert [(step["id"], step["start_s"], step["finish_s"]) for step in found["steps"]] == [
        (step["id"], step["start_s"], step["finish_s"]) for step in plan["steps"]
    ]


def test_project_in_words_says_who_is_where(file: Path) -> None:
    rows = marks(file.parent, "rig/1,0:04")
    said = called("project", file, "--marks", rows, "--at", "0:04", folder=file.parent).stdout
    assert "the team is 1m ahead" in said
    assert "finish 00:26:00, plan 00:27:00" in said
    assert "next rig/2" in said
    assert "may start: sweep (EV2)" in said


@pytest.mark.parametrize(("row", "place"), [
    ("rigg/1,0:05", "no step rigg/1"), ("rig/9,0:05", "no step rig/9"), ("rig/1,5", ":2:7: fault:"),
    ("rig,0:05", ":2:1: fault:"), ("rig/1", ":2:1: fault:"), ('"rig/1,0:05', ":2:1: fault:"),
])  # fmt: skip
def test_marks_that_make_no_sense_are_refused_with_their_place(file: Path, row: str, place: str) -> None:
    said = called("project", file, "--marks", marks(file.parent, row), "--at", "1:00", folder=file.parent)
    assert said.returncode == 1
    assert place in said.stderr
    assert said.stdout == ""


def test_a_moment_that_is_none_is_refused(file: Path) -> None:
    said = called("project", file, "--marks", marks(file.parent), "--at", "noon", folder=file.parent)
    assert said.returncode == 2
    assert "--at" in said.stderr
    assert "h:mm" in said.stderr
