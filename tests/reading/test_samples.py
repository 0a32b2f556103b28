"""The sample procedures that come with the program are sound, and say what their files say."""

from pathlib import Path

import pytest

from app.core.network import build
from app.core.passes import plan
from app.core.procedure import After, Person, Span, Takes, Value
from app.core.times import read_clock
from app.reading.procedure_reader import read_procedure

SAMPLES = Path(__file__).parent.parent.parent / "procedures"
PUMP, BALLOON = SAMPLES / "pump-changeout.yaml", SAMPLES / "balloon-launch.yaml"


@pytest.mark.parametrize("path", [PUMP, BALLOON], ids=lambda path: path.stem)
def test_a_sample_has_no_faults_and_no_remarks(path: Path) -> None:
    reading = read_procedure(path.read_bytes())
    assert reading.faults == ()
    assert reading.procedure is not None
    assert reading.procedure.id == path.stem
    assert plan(build(reading.procedure)).end_s < (reading.procedure.limits.finish_s or 0)


def test_the_pump_sample_reads_to_what_its_file_says() -> None:
    pump = read_procedure(PUMP.read_bytes()).procedure
    assert pump is not None
    assert (pump.title, pump.zero) == ("Coolant pump changeout", "Outer hatch open")
    assert pump.crew[0] == Person("EV1", "Outside, left side")
    assert [person.designator for person in pump.crew] == ["EV1", "EV2", "ARM", "GROUND"]
    assert (pump.limits.finish_s, pump.limits.close_out) == (read_clock("4:50"), "come-in")
    assert pump.windows[0].spans == (Span(600, 3900), Span(6120, 9420), Span(11640, 14940))
    assert (pump.rounds[0].every_s, pump.rounds[0].who) == (3600, ("EV1", "EV2"))
    assert (pump.supplies[0].unit, pump.supplies[0].reserve) == ("%", 12)
    assert len(pump.tools) == 5
    assert (pump.least_lead_s, pump.on_plan_within_s, pump.spread) == (0, 60, (0.8, 1.0, 1.6))
    assert (len(pump.tasks), len(pump.steps)) == (18, 39)


def test_the_pump_sample_steps_read_to_what_their_file_says() -> None:
    pump = read_procedure(PUMP.read_bytes()).procedure
    assert pump is not None
    assert pump.step("go-out/2").takes == Takes(720, 480, 1200)
    assert pump.step("go-out/1").warning == "One tether hooked at all times."
    assert pump.step("shut-valves/2").record == (Value("turns", "turn", 11, 13),)
    assert pump.step("unplug/1").after == (After("go-out"),)
    assert pump.step("unplug/2").after == ()
    assert pump.step("unplug/4").after == (After("isolate"),)
    assert pump.step("free-old/1").count == 8
    assert pump.step("bring-spare/3").go == ("EV1", "EV2", "GROUND")
    assert pump.step("fasten/2").confirm_by == "EV1"
    assert pump.step("watch/1").after == (After("prove", 1, 0),)
    assert pump.step("photo-survey/1").within == "daylight"
    assert (pump.task("swap-lamp").may_put_off, pump.task("swap-lamp").worth) == (True, 3)
    assert pump.step("come-in/3").do == "In, and hatch shut"
    extra = [task.id for task in pump.tasks if task.get_ahead]
    assert extra == ["wipe-window", "check-clips", "sample-tray", "spare-cable"]


def test_the_balloon_sample_uses_every_part_of_the_format() -> None:
    balloon = read_procedure(BALLOON.read_bytes()).procedure
    assert balloon is not None
    steps = balloon.steps
    assert 4 <= len(balloon.crew) <= 5
    assert 25 <= len(steps) <= 35
    assert any(step.not_before_s for step in steps)
    assert any(step.go for step in steps)
    assert any(link.wait_s for step in steps for link in step.after)
    assert any(not step.who for step in steps)
    assert sum(task.get_ahead for task in balloon.tasks) == 2
    assert sum(task.may_put_off and task.worth > 0 for task in balloon.tasks) == 2
    assert all(
        any(getattr(step, part) for step in steps)
        for part in ("record", "count", "confirm_by", "warning", "caution", "note", "within")
    )
    assert balloon.supplies
    assert balloon.rounds
    assert balloon.spread == (0.8, 1.0, 1.7)
    assert balloon.on_plan_within_s == 90
