"""Facts of the trade, on procedures of our own making. Each is common practice, no source."""

import pytest

from app.core.carry import at_head, carried_over
from app.core.choices import offers
from app.core.commands import EndRun, GiveGo, GiveNoGo, MarkStep, PutOff, Refusal, SetNotNeeded, TakeWork
from app.core.situation import Prepared, StepState
from tests.core.building import procedure, step, task
from tests.core.running import Run, marked

APPROACH = procedure(
    task(
        "approach",
        [
            step(300, "Move in to 30 cm"),
            step(120, "Stop at 30 cm", go=("EV1", "EV2")),
            step(60, "Move in to 15 cm"),
            step(120, "Stop at 15 cm", go=("EV1", "EV2", "GROUND")),
        ],
        who="ARM",
    ),
    task("contact", [step(60, "Make contact")], who="ARM", after=["approach"]),
    crew=("EV1", "EV2", "ARM", "GROUND"),
)


# An approach makes two stops, at 30 cm and at 15 cm: common practice, no source.


def test_contact_cannot_be_marked_before_both_stops_are_go() -> None:
    run = Run(APPROACH).mark(approach_1=300)
    with pytest.raises(Refusal, match="no go yet from EV1 and EV2"):
        run.order(MarkStep("approach/2"), 400)
    for person in ("EV1", "EV2"):
        run.order(GiveGo("approach/2", person), 410)
    run.mark(approach_2=420, approach_3=480)
    for person in ("EV1", "EV2"):
        run.order(GiveGo("approach/4", person), 500)
    with pytest.raises(Refusal, match="no go yet from GROUND"):
        run.order(MarkStep("approach/4"), 510)
    with pytest.raises(Refusal, match=r"approach/4\) is a hold, and no order passes it"):
        run.order(MarkStep("contact/1"), 510)
    run.order(GiveGo("approach/4", "GROUND"), 520)
    run.mark(approach_4=530, contact_1=590)
    assert run.at(590).lead_s == 660 - 590


def test_not_even_an_order_of_the_lead_passes_a_stop_that_is_not_go() -> None:
    run = Run(APPROACH).mark(approach_1=300)
    run.order(GiveGo("approach/2", "EV1"), 310)
    run.order(GiveNoGo("approach/2", "EV2", "the rails are not in view"), 320)
    with pytest.raises(Refusal) as refused:
        run.order(MarkStep("approach/2", ordered_because="carry on"), 330)
    assert (refused.value.code, refused.value.may_order) == ("hold", False)
    assert "EV2" in str(refused.value)


def test_the_stop_at_15_cm_asks_nobody_before_the_stop_at_30_cm_is_over() -> None:
    run = Run(APPROACH).mark(approach_1=300)
    with pytest.raises(Refusal, match="The hold was not reached"):
        run.order(GiveGo("approach/4", "EV1"), 310)


# A ground command waits until every restraint and both bars are recorded as out: common practice, no source.

RESTRAINTS = procedure(
    task("restraints-left", [step(60, f"Restraint {number} out") for number in (1, 2, 3)], who="EV1"),
    task("restraints-right", [step(60, f"Restraint {number} out") for number in (4, 5, 6)], who="EV2"),
    task("bars", [step(90, "Left bar out", who="EV1"), step(90, "Right bar out", who="EV2")]),
    task(
        "command",
        [step(30, "Send the release command")],
        who="GROUND",
        after=["restraints-left", "restraints-right", "bars"],
    ),
)
OUT = [each.id for each in RESTRAINTS.steps if each.task != "command"]


@pytest.mark.parametrize("missing", OUT)
def test_the_ground_command_waits_for_each_of_six_restraints_and_two_bars(missing: str) -> None:
    run = Run(RESTRAINTS)
    for second, name in enumerate((each for each in OUT if each != missing), start=60):
        run.order(MarkStep(name, ordered_because="called out of order"), second)
    assert run.step_state("command/1", 100) is StepState.WAITING
    with pytest.raises(Refusal) as refused:
        run.order(MarkStep("command/1"), 100)
    assert refused.value.code == "open-prerequisite"
    assert f"({missing}) is open" in str(refused.value)
    assert str(refused.value).count("is open") == 1
    run.mark(**{missing.replace("/", "_"): 110})
    assert run.step_state("command/1", 110) is StepState.UNDER_WAY
    run.order(MarkStep("command/1"), 140)


# A get-ahead item may be started at any moment while the team is on time or ahead: common practice, no source.

WITH_EXTRA = procedure(
    task("out", [600], who="EV1"),
    task("work", [600], who="EV1"),
    task("long", [1800], who="EV2"),
    task("in", [600], who=("EV1", "EV2"), after=["work", "long"]),
    task("tray", [300], who="EV1", get_ahead=True),
    finish_s=3000,
    close_out="in",
)


@pytest.mark.parametrize("second", [0, 1, 599, 600, 900, 1199, 1200, 1500])
def test_a_get_ahead_item_may_be_started_at_any_moment_while_the_team_is_on_time(second: int) -> None:
    done = {name: at_s for name, at_s in {"out/1": 600, "work/1": 1200}.items() if at_s <= second}
    (item,) = offers(marked(WITH_EXTRA, second, done))
    assert item.eligible, item.reason
    assert item.lead_after_s == 0


@pytest.mark.parametrize("second", [700, 1000, 1500])
def test_a_get_ahead_item_may_be_started_while_the_team_is_ahead(second: int) -> None:
    situation = marked(WITH_EXTRA, second, {"out/1": 500, "long/1": 700})
    assert situation.lead_s > 0
    (item,) = offers(situation)
    assert item.eligible is (situation.person("EV1").lead_s >= -60)


@pytest.mark.parametrize("second", [1801, 1860, 2400])
def test_no_get_ahead_item_may_be_started_while_the_team_is_behind(second: int) -> None:
    run = Run(WITH_EXTRA).mark(out_1=600, work_1=1200)
    assert run.at(second).lead_s < 0
    (item,) = offers(run.at(second))
    assert not item.eligible
    assert item.reason is not None
    assert item.reason.startswith("the team is ")
    assert item.reason.endswith(" behind")
    with pytest.raises(Refusal) as refused:
        run.order(TakeWork("tray"), second)
    assert refused.value.code == "not-eligible"


# Work not finished goes to the head of the next outing's list: common practice, no source.

OUTING = procedure(
    task("go-out", [600], who=("EV1", "EV2")),
    task("lamp", [300, 300], who="EV1", after=["go-out"]),
    task("survey", [600], who="EV2", after=["go-out"], may_put_off=True),
    task("sample", [300], who="EV2", after=["survey"], may_put_off=True),
    task("label", [300], who="EV1", after=["lamp"]),
    task("come-in", [600], who=("EV1", "EV2"), after=["label", "sample"]),
    task("extra", [300], who="EV1", get_ahead=True),
    close_out="come-in",
)
NEXT = procedure(
    task("go-out", [600], who=("EV1", "EV2")),
    task("valve", [900], who="EV1", after=["go-out"]),
    task("come-in", [600], who=("EV1", "EV2"), after=["valve"]),
    close_out="come-in",
)


def _cut_short() -> Run:
    run = Run(OUTING).mark(**{"go-out_1": 600, "lamp_1": 900})
    run.order(PutOff("survey", "the light is going"), 950)
    run.order(EndRun("back early"), 2000)
    return run


def test_work_not_finished_goes_to_the_head_of_the_next_list_begun_work_first() -> None:
    carried = carried_over(OUTING, _cut_short().state)
    assert [each.id for each in carried] == ["lamp", "label", "survey", "sample"]
    assert [each.id for each in carried[0].steps] == ["lamp/2"]
    following = at_head(carried, NEXT)
    assert [each.id for each in following.tasks[:4]] == ["lamp", "label", "survey", "sample"]
    assert [each.id for each in following.tasks[4:]] == ["go-out", "valve", "come-in"]


def test_what_was_carried_over_plans_and_waits_only_for_what_is_still_open() -> None:
    prepared = Prepared(at_head(carried_over(OUTING, _cut_short().state), NEXT))
    starts = {each.id: prepared.plan.times(number)[0] for number, each in enumerate(prepared.network.steps)}
    assert (starts["lamp/2"], starts["label/1"]) == (0, 300)
    assert (starts["survey/1"], starts["sample/1"]) == (0, 600)
    assert starts["go-out/1"] == 900


def test_a_run_that_finished_its_work_leaves_nothing_and_extra_work_never_begun_is_not_owed() -> None:
    run = Run(OUTING).mark(
        **{"go-out_1": 600, "lamp_1": 900, "lamp_2": 1200, "survey_1": 1200, "sample_1": 1500, "label_1": 1500}
    )
    assert carried_over(OUTING, run.state) == ()


def test_a_task_begun_before_what_its_second_step_needs_is_carried_after_it() -> None:
    made = procedure(task("u", [60], who="EV1"), task("b", [60, step(60, after=["u"])], who="EV1"))
    run = Run(made).mark(b_1=60)
    carried = carried_over(made, run.state)
    assert [each.id for each in carried] == ["u", "b"]
    assert Prepared(at_head(carried, procedure(crew=("EV1",)))).plan.end_s == 120


def test_through_a_step_that_is_not_needed_carried_work_still_waits_for_what_is_open() -> None:
    made = procedure(
        task("a", [60], who="EV1"), task("n", [60], who="EV2", after=["a"]), task("b", [60], who="EV2", after=["n"])
    )
    run = Run(made)
    run.order(SetNotNeeded("n/1", "done by the night crew"), 10)
    prepared = Prepared(at_head(carried_over(made, run.state), procedure(crew=("EV1", "EV2"))))
    assert [each.id for each in prepared.network.steps] == ["a/1", "b/1"]
    assert prepared.plan.times(1) == (60, 120)
