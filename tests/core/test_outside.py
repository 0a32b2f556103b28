"""The plan against published networks. Durations are taken as minutes, and nobody is assigned unless said."""

import json
from pathlib import Path
from typing import Any

import pytest

from app.core.passes import backward, plan
from app.core.procedure import Procedure
from app.core.situation import Prepared
from tests.core.building import procedure, task

DATA = Path(__file__).parent.parent / "data"
MINUTE = 60


def _read(name: str) -> Any:
    return json.loads((DATA / name).read_text(encoding="utf-8"))


# Anderson et al., An Introduction to Management Science, Cengage 2014, Fig. 9.12 and Table 9.6; Hillier and Lieberman,
# Introduction to Operations Research (Reliable Construction); Render, Stair, Hanna, Quantitative Analysis for
# Management (General Foundry); Hendrickson, Project Management for Construction, Table 10-2; one lecture example.
CPM = {case["id"]: case for case in _read("cpm_cases.json")}


def _of_activities(case: dict[str, Any]) -> Prepared:
    return Prepared(
        procedure(
            *(task(each["id"], [each["duration"] * MINUTE], after=each["predecessors"]) for each in case["activities"])
        )
    )


@pytest.mark.parametrize("name", CPM)
def test_the_plan_finish_and_the_critical_path_are_those_of_the_textbook(name: str) -> None:
    case = CPM[name]
    prepared = _of_activities(case)
    assert prepared.plan.end_s == case["project_duration"] * MINUTE
    critical = {
        step.task
        for number, step in enumerate(prepared.network.steps)
        if prepared.late.float_s(prepared.plan, number) == 0
    }
    assert critical == set(case["critical"])


@pytest.mark.parametrize(
    ("name", "activity", "figure"),
    [(name, each, figure) for name, case in CPM.items() for each, row in case["published"].items() for figure in row],
)
def test_each_published_time_and_float_is_met(name: str, activity: str, figure: str) -> None:
    prepared = _of_activities(CPM[name])
    number = prepared.network.index[f"{activity}/1"]
    start_s, finish_s = prepared.plan.times(number)
    ours = {
        "es": start_s,
        "ef": finish_s,
        "ls": prepared.late.start_s[number],
        "lf": prepared.late.finish_s[number],
        "tf": prepared.late.float_s(prepared.plan, number),
    }
    assert ours[figure] == CPM[name]["published"][activity][figure] * MINUTE


# PSPLIB J30: Kolisch and Sprecher 1997, EJOR 96:205-216. `mpm_time` is the critical path without resources.
PSPLIB = {each["name"]: each for each in _read("psplib_j30.json")}


def _of_jobs(instance: dict[str, Any]) -> Procedure:
    before: dict[int, list[str]] = {job["id"]: [] for job in instance["jobs"]}
    for job in instance["jobs"]:
        for later in job["successors"]:
            before[later].append(f"J{job['id']}")
    return procedure(
        *(task(f"J{job['id']}", [job["duration"] * MINUTE], after=before[job["id"]]) for job in instance["jobs"])
    )


@pytest.mark.parametrize("name", PSPLIB)
def test_the_plan_finish_is_the_critical_path_of_psplib(name: str) -> None:
    prepared = Prepared(_of_jobs(PSPLIB[name]))
    assert prepared.plan.end_s == PSPLIB[name]["mpm_time"] * MINUTE


@pytest.mark.parametrize("name", PSPLIB)
def test_from_the_first_to_the_last_job_of_psplib_runs_a_path_without_float(name: str) -> None:
    prepared = Prepared(_of_jobs(PSPLIB[name]))
    late = backward(prepared.network, plan(prepared.network))
    path = [0]
    for number in prepared.network.order:
        begins = prepared.plan.times(number)[0]
        follows = path[-1] in {earlier for earlier, _ in prepared.network.before[number]}
        if late.float_s(prepared.plan, number) == 0 and follows and prepared.plan.times(path[-1])[1] == begins:
            path.append(number)
    length = sum(prepared.network.takes_s[number] for number in path)
    assert length == PSPLIB[name]["mpm_time"] * MINUTE


# ft06: Muth and Thompson, Industrial Scheduling, Prentice-Hall 1963; the optimum is 55.
FT06 = _read("job_shop.json")["ft06"]
# For each machine the jobs in the order it takes them. Found with Giffler and Thompson's active schedules, drawn at
# random until one ended at the published optimum.
FT06_SEQUENCES = (
    (0, 3, 2, 5, 1, 4),
    (1, 3, 5, 0, 4, 2),
    (0, 2, 1, 4, 3, 5),
    (2, 5, 3, 0, 1, 4),
    (1, 4, 3, 2, 5, 0),
    (2, 5, 1, 4, 0, 3),
)


def _job_shop(shop: dict[str, Any], sequences: tuple[tuple[int, ...], ...]) -> Procedure:
    """Each machine a person, each operation a task; a machine's sequence is the file order of its tasks."""
    tasks = []
    for machine, jobs in enumerate(sequences):
        for job in jobs:
            turn = shop["machines"][job].index(machine)
            earlier = [f"J{job}-{turn - 1}"] if turn else []
            takes_s = shop["durations"][job][turn] * MINUTE
            tasks.append(task(f"J{job}-{turn}", [takes_s], who=f"M{machine}", after=earlier))
    return procedure(*tasks)


def test_people_who_do_one_thing_after_another_finish_ft06_in_55_minutes() -> None:
    assert Prepared(_job_shop(FT06, FT06_SEQUENCES)).plan.end_s == FT06["optimum"] * MINUTE


def test_without_people_ft06_is_as_long_as_its_longest_job() -> None:
    nobody = _job_shop(FT06, FT06_SEQUENCES)
    free = procedure(*(task(each.id, [each.steps[0].takes.likely_s], after=each.after) for each in nobody.tasks))
    assert Prepared(free).plan.end_s == max(sum(job) for job in FT06["durations"]) * MINUTE
