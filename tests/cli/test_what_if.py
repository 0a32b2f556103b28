"""`leadline project --if`: the run as it stands and as it would be, in words and in a fixed JSON form."""

import json
from pathlib import Path
from typing import Any

import pytest

from app.core.times import clock, duration, lead_words
from tests.served import called, leadline
from tests.web.conftest import site
from tests.web.site import Site
from tests.web.yard import YARD

__all__ = ["site"]

SIDE = {"lead_s", "projected_finish_s", "room_s", "crew", "forecast"}
SPREAD = {"ten_in_a_hundred_by_s", "half_by_s", "nine_in_ten_by_s", "chance"}
WINDOW = {"window", "task", "opens_s", "closes_s", "chance"}
LOSES, OFF = "EV1 loses 5 min", "put off gate"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """A procedure, and the marks of its run beside it."""
    path = tmp_path / "yard.yaml"
    path.write_bytes(YARD)
    (tmp_path / "marks.csv").write_text("step,at\ndig/1,0:22\nsaw/1,0:24:30\n")
    return path


def project(file: Path, *words: str, at: str = "0:25") -> Any:
    return called("project", file, "--marks", file.with_name("marks.csv"), "--at", at, *words, folder=file.parent)


def tried(file: Path, *said: str) -> dict[str, Any]:
    answer = project(file, *[word for text in said for word in ("--if", text)], "--json")
    assert (answer.returncode, answer.stderr) == (0, "")
    found: dict[str, Any] = json.loads(answer.stdout)
    return found


def test_both_columns_are_printed_with_what_would_be_logged(file: Path) -> None:
    said = leadline(
        "project", file, "--marks", file.with_name("marks.csv"), "--at", "0:25", "--if", LOSES, "--if", OFF,
        folder=file.parent,
    )  # fmt: skip
    assert (said.returncode, said.stderr) == (0, "")
    report = tried(file, LOSES, OFF)
    now, then = report["present"], report["then"]
    first, second, head, *lines = said.stdout.splitlines()
    assert first == "if EV1 loses 5 min: Takes 15m, plan 10m: “Set it” (fence/1)."
    assert second == "if put off gate: Put off: “Hang the gate”."
    assert head.split() == ["as", "it", "stands", "if", "so"]
    columns = {line[:26].strip(): (line[26:60].strip(), line[60:].strip()) for line in lines}
    assert columns["team"] == (lead_words(now["lead_s"], 0), lead_words(then["lead_s"], 0))
    assert columns["finish"] == (clock(now["projected_finish_s"]), clock(then["projected_finish_s"]))
    assert columns["room"] == (duration(now["room_s"]), duration(then["room_s"]))
    chances = [f"{side['forecast']['team']['chance']} %," for side in (now, then)]
    assert [
        words.startswith(chance) for words, chance in zip(columns["chance, half, nine in ten"], chances, strict=True)
    ]
    assert columns["EV1"] == ("2m behind", "7m behind")
    assert columns["EV2"] == ("30s ahead", "30s ahead (same)")


def test_the_json_has_the_fixed_form(file: Path) -> None:
    report = tried(file, LOSES, OFF)
    assert set(report) == {"changes", "present", "then"}
    assert [set(each) for each in report["changes"]] == [{"said", "would_log"}] * 2
    for side in (report["present"], report["then"]):
        assert set(side) == SIDE
        assert set(side["crew"]) == {"EV1", "EV2"}
        assert all(set(each) == {"lead_s", "next"} for each in side["crew"].values())
        assert set(side["forecast"]) == {"draws", "team", "crew", "windows"}
        assert set(side["forecast"]["team"]) == SPREAD
        assert all(set(each) == SPREAD for each in side["forecast"]["crew"].values())
        assert all(set(each) == WINDOW for each in side["forecast"]["windows"])


def test_changes_are_tried_one_after_another(file: Path) -> None:
    alone, both = tried(file, OFF)["then"], tried(file, OFF, "put back gate")
    assert both["then"] == both["present"]
    assert alone["projected_finish_s"] == both["present"]["projected_finish_s"] - 330


def test_the_same_question_has_the_same_answer(file: Path) -> None:
    assert tried(file, LOSES) == tried(file, LOSES)


@pytest.mark.parametrize(("change", "sentence"), [
    ("blah", "“blah” is no change that can be tried"), ("put off dig", "“Dig the trench” may not be put off"),
    ("EV9 loses 5 min", "There is no person “EV9”."), ("EV1 loses 5", "does not say its unit"), ("", "no change"),
])  # fmt: skip
@pytest.mark.parametrize("form", [(), ("--json",)], ids=["words", "json"])
def test_a_refused_change_is_a_sentence_and_code_1(
    file: Path, change: str, sentence: str, form: tuple[str, ...]
) -> None:
    said = project(file, "--if", OFF, "--if", change, *form)
    assert (said.returncode, said.stdout) == (1, "")
    assert sentence in said.stderr
    assert said.stderr.count("\n") == 1


def test_eleven_changes_are_too_many(file: Path) -> None:
    said = project(file, *["--if", LOSES] * 11)
    assert (said.returncode, said.stdout) == (1, "")
    assert "At most 10 changes at once." in said.stderr


def test_without_a_change_nothing_is_added_to_the_report(file: Path) -> None:
    found = json.loads(project(file, "--json").stdout)
    assert set(found) == {"at_s", "plan_finish_s", "projected_finish_s", "lead_s", "crew", "steps", "get_ahead"}
    assert found["lead_s"] == tried(file, LOSES)["present"]["lead_s"]
    assert "if so" not in project(file).stdout


def test_it_says_what_the_server_says_of_a_run_with_the_same_marks(file: Path, site: Site) -> None:
    run = site.start(YARD)
    site.clock.at_s = 25 * 60
    for step, at in (("dig/1", "0:22"), ("saw/1", "0:24:30")):
        assert site.order(run, "mark", step=step, at=at).status_code == 303
    served = site.request("GET", f"/api/runs/{run}/what-if", params={"if": [LOSES, OFF]})
    assert served.json() == tried(file, LOSES, OFF)


def test_without_a_limit_and_with_nothing_left_it_still_says_so(file: Path) -> None:
    file.write_bytes(YARD.replace(b"finish: 0:52, ", b""))
    assert "no limit" in project(file, "--if", OFF).stdout
    steps = ("dig", "fence", "gate", "saw", "paint", "home")
    file.with_name("marks.csv").write_text("step,at\n" + "".join(f"{step}/1,0:20\n" for step in steps))
    done = project(file, "--if", "take rake")
    assert (done.returncode, done.stdout) == (1, "")
    assert "“Rake the leaves”: not now" in done.stderr
