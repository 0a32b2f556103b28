"""Which durations of a run count, which can't be told and why, and which steps of two revisions are the same work."""

from dataclasses import replace

from hypothesis import HealthCheck, given, settings

from app.core.as_run import as_run
from app.core.commands import EndRun, PutOff, RecordStart, ReopenStep, SetNotNeeded
from app.core.debrief_again import worked
from app.core.durations import (
    AGAIN,
    AT_ONCE,
    NOT_IN_REVISION,
    NOT_MARKED,
    NOT_YET,
    RULED,
    SIMULATED,
    TROUBLED,
    WINDOW,
    PastRun,
    StepDurations,
    durations,
    same_work,
    told_by,
)
from app.core.events import Event, StepMarked, StepReopened
from app.core.events_rehearsal import ClockRuled, InjectDone, InjectDropped, InjectSet, PlayersSet
from app.core.procedure import Procedure
from app.core.situation import StepState
from tests.core.building import procedure, step, task
from tests.core.running import Run, logged
from tests.core.told_runs import told_runs

MADE = procedure(
    task("a", [60, 60, 60], who="EV1"),
    task("b", [30, 30], who="EV2", may_put_off=True),
    task("x", [40], who="EV2", get_ahead=True),
    task("c", [50], after=["a"]),
)


def past(run: Run, number: int = 1, at_s: int = 1000, kind: str = "rehearsal") -> PastRun:
    return PastRun(number, kind, run.at(at_s), run.log)


def told(run: Run, simulated: bool = False) -> dict[str, int | str]:
    """What the run tells of each step: seconds, or why not."""
    found = told_by(past(run), simulated)
    return {step: each.why if each.took_s is None else each.took_s for step, each in found.items()}


def happen(run: Run, at_s: int, event: Event) -> None:
    """An event of a trainer, put into the log as it stands."""
    run.log.append(logged(len(run.log) + 1, at_s, event))


def found(step_id: str, *runs: PastRun, made: Procedure = MADE) -> StepDurations:
    return next(each for each in durations(made, runs) if each.step.id == step_id)


def test_a_duration_is_from_what_a_step_waited_for_or_its_recorded_start_to_its_mark() -> None:
    run = Run(MADE).mark(a_1=70, a_2=150)
    run.order(RecordStart("a/3"), 160, 160)
    run.mark(a_3=200, c_1=275)
    assert told(run) == {
        "a/1": 70,
        "a/2": 80,
        "a/3": 40,
        "b/1": NOT_MARKED,
        "b/2": NOT_MARKED,
        "x/1": NOT_MARKED,
        "c/1": 75,
    }


def test_what_was_not_done_tells_no_duration_and_is_told_by_its_state() -> None:
    run = Run(MADE)
    run.order(SetNotNeeded("a/1", "bare already"), 10)
    run.order(PutOff("b", "late"), 20)
    assert told(run)["a/1"] == "not needed"
    assert told(run)["b/1"] == told(run)["b/2"] == "put off"


def test_steps_of_one_person_marked_in_one_second_are_left_out_together() -> None:
    """The first has the time of both; which took how long nobody knows."""
    run = Run(MADE).mark(a_1=70, a_2=200, a_3=200)
    assert told(run)["a/1"] == 70
    assert told(run)["a/2"] == "marked in the same second as a/3"
    assert told(run)["a/3"] == "marked in the same second as a/2"


def test_one_whose_start_was_recorded_counts_all_the_same() -> None:
    run = Run(MADE).mark(a_1=70)
    run.order(RecordStart("a/2"), 130, 130)
    run.mark(a_2=200, a_3=200)
    assert told(run)["a/2"] == 70
    assert told(run)["a/3"] == "marked in the same second as a/2"


def test_a_step_that_is_planned_to_take_no_time_takes_none_of_the_one_before() -> None:
    made = procedure(task("a", [60, 0, 60], who="EV1"))
    run = Run(made).mark(a_1=70, a_2=70, a_3=140)
    found = told_by(past(run))
    assert (found["a/1"].took_s, found["a/2"].why, found["a/3"].took_s) == (70, AT_ONCE, 70)


def test_a_step_that_was_taken_back_and_done_again_is_left_out() -> None:
    """Its mark is hours later, and it was not worked on all the time."""
    run = Run(MADE).mark(a_1=60, a_2=130)
    run.order(ReopenStep("a/1", "it came back"), 18_000)
    run.mark(a_1=18_010)
    assert told_by(past(run, at_s=20_000))["a/1"].why == AGAIN


def test_a_slip_that_was_undone_at_once_is_no_second_piece_of_work() -> None:
    again: tuple[Event, ...] = (StepMarked("a/1"), StepReopened("a/1", "", undone=True), StepMarked("a/1"))
    run = Run(MADE).mark(a_1=70)
    log = tuple(logged(at, 70, each) for at, each in enumerate(again, start=1))
    assert told_by(replace(past(run), log=log))["a/1"].took_s == 70


def test_two_people_may_mark_in_the_same_second() -> None:
    run = Run(MADE).mark(a_1=70, b_1=70)
    assert (told(run)["a/1"], told(run)["b/1"]) == (70, 70)


def test_a_step_marked_at_the_second_in_which_it_could_begin_tells_nothing() -> None:
    run = Run(procedure(task("a", [60], who="EV1"), task("c", [50], after=["a"]))).mark(a_1=70, c_1=70)
    assert told(run) == {"a/1": 70, "c/1": AT_ONCE}


def test_a_step_that_may_have_waited_for_its_window_counts_only_where_its_start_was_recorded() -> None:
    made = procedure(
        task("a", [60, 60, 60], who="EV1", within="day"), windows={"day": [(100, 300), (500, 700)]}, crew=["EV1"]
    )
    run = Run(made).mark(a_1=170, a_2=240, a_3=560)
    assert told(run) == {"a/1": WINDOW, "a/2": 70, "a/3": WINDOW}
    again = Run(made)
    again.order(RecordStart("a/1"), 105, 105)
    again.mark(a_1=170, a_2=340)
    assert told(again) == {"a/1": 65, "a/2": 170, "a/3": NOT_MARKED}, "a/2 ran past the closing"


def test_what_simulated_people_did_is_left_out_unless_it_is_asked_for() -> None:
    run = Run(MADE).mark(a_1=70)
    happen(run, 80, PlayersSet(("EV1",), 7))
    run.now_s = 80
    run.mark(b_1=90, a_2=150, a_3=205, c_1=260)
    assert told(run)["a/1"] == 70, "somebody's own, before they were played"
    assert told(run)["b/1"] == 90, "nobody played EV2"
    assert [told(run)[step] for step in ("a/2", "a/3", "c/1")] == [SIMULATED] * 3
    assert [told(run, simulated=True)[step] for step in ("a/2", "a/3", "c/1")] == [80, 55, 55]


def test_nobody_is_played_any_more_once_the_players_are_gone() -> None:
    run = Run(MADE)
    happen(run, 1, PlayersSet(("EV1",), 7))
    happen(run, 2, PlayersSet((), 7))
    run.mark(a_1=70)
    assert told(run)["a/1"] == 70


def test_a_step_during_which_the_clock_was_set_forward_tells_nothing() -> None:
    run = Run(MADE).mark(a_1=70)
    happen(run, 100, ClockRuled(1, 400))
    run.now_s = 400
    run.mark(a_2=420, a_3=480)
    assert told(run)["a/2"] == RULED
    assert (told(run)["a/1"], told(run)["a/3"]) == (70, 60)


def test_a_step_during_which_the_clock_stood_or_ran_fast_tells_nothing() -> None:
    run = Run(MADE).mark(a_1=70)
    happen(run, 100, ClockRuled(0, 100))
    happen(run, 100, ClockRuled(1, 100))
    run.mark(a_2=150)
    happen(run, 160, ClockRuled(4, 160))
    run.mark(a_3=200)
    run.mark(b_1=210)
    happen(run, 300, ClockRuled(1, 300))
    run.mark(c_1=330)
    assert [told(run)[step] for step in ("a/1", "a/2", "a/3", "b/1")] == [70, RULED, RULED, RULED]
    assert told(run)["c/1"] == RULED, "it began while the clock ran fast"


def test_simulated_people_work_by_the_clock_of_the_run_however_fast_it_goes() -> None:
    run = Run(MADE)
    happen(run, 1, PlayersSet(("EV1",), 7))
    happen(run, 1, ClockRuled(60, 1))
    run.mark(a_1=70, b_1=80)
    assert told(run, simulated=True)["a/1"] == 70
    assert told(run, simulated=True)["b/1"] == RULED


def test_a_step_that_the_trainer_made_trouble_at_tells_nothing_once_the_trouble_was_there() -> None:
    run = Run(MADE)
    happen(run, 1, InjectSet("inject-1", "delay", 10, step="a/1", by_s=300))
    happen(run, 1, InjectSet("inject-2", "delay", 10, step="a/2", by_s=300))
    happen(run, 1, InjectSet("inject-3", "lost tool", 10, tool="camera"))
    for number in (1, 3):
        happen(run, 20, InjectDone(f"inject-{number}"))
    happen(run, 20, InjectDropped("inject-2"))
    run.mark(a_1=370, a_2=440)
    assert told(run)["a/1"] == NOT_YET, "they are still being trained"
    run.order(EndRun("done"), 450)
    assert told(run)["a/1"] == TROUBLED
    assert told(run)["a/2"] == 70


def test_a_step_counts_over_runs_of_other_revisions_where_it_is_the_same_work() -> None:
    """A step was put in before it, so that its number is another one; what is new has no past."""
    older = procedure(task("a", [step(60, "Open the box"), step(60, "Shut  the box")], who="EV1"))
    newer = procedure(
        task("a", [step(60, "Open the box"), step(20, "Look into it"), step(60, "Shut the box")], who="EV1")
    )
    assert same_work(newer, older) == {"a/1": "a/1", "a/3": "a/2"}
    then, now = Run(older).mark(a_1=50, a_2=130), Run(newer).mark(a_1=60, a_2=90, a_3=160)
    runs = past(then, 1), past(now, 2)
    assert found("a/3", *runs, made=newer).took_s == (80, 70)
    assert found("a/2", *runs, made=newer).took_s == (30,)
    assert [each.why for each in found("a/2", *runs, made=newer).left_out] == [NOT_IN_REVISION]


def test_other_words_other_people_or_another_task_are_other_work() -> None:
    ours = procedure(task("a", [step(60, "Open it"), step(60, "Shut it"), step(60, "Lift it")], who="EV1"))
    theirs = procedure(
        task("a", [step(60, "Open the lid"), step(60, "Shut it", who="EV2")], who="EV1"),
        task("b", [step(60, "Lift it")], who="EV1"),
    )
    assert same_work(ours, theirs) == {}


def test_like_steps_of_a_task_are_told_apart_by_their_order_while_they_are_equally_many() -> None:
    three = procedure(task("a", [step(60, "Undo a screw")] * 3, who="EV1"))
    two = procedure(task("a", [step(60, "Undo a screw")] * 2, who="EV1"))
    assert same_work(three, three) == {"a/1": "a/1", "a/2": "a/2", "a/3": "a/3"}
    assert same_work(three, two) == {}


def test_the_figures_of_a_step_are_those_of_the_runs_that_count() -> None:
    runs = [past(Run(MADE).mark(a_1=took), number) for number, took in enumerate((50, 70, 90), start=1)]
    row = found("a/1", *runs, past(Run(MADE), 4))
    assert row.sample is not None
    assert (row.sample.n, row.sample.median, row.ratio) == (3, 70, 70 / 60)
    assert (row.sample.quantile(0.1), row.sample.quantile(0.9)) == (54, 86)
    assert [(each.run, each.why) for each in row.left_out] == [(4, NOT_MARKED)]


def test_without_a_run_nothing_is_told() -> None:
    rows = durations(MADE, ())
    assert [row.step.id for row in rows] == [step.id for step in MADE.steps]
    assert all(row.sample is None and row.ratio is None and not row.told for row in rows)


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(told=told_runs())
def test_whatever_happened_each_step_counts_once_or_says_why_not(told: tuple[Procedure, Run]) -> None:
    made, run = told
    about = past(run, at_s=run.now_s)
    rows = {row.id: row for row in worked(about.situation, about.log).steps}
    for each in durations(made, [about]):
        (one,) = each.told
        assert (one.took_s is None) == bool(one.why)
        if one.took_s is not None:
            row = rows[each.step.id]
            assert row.state is StepState.DONE
            assert one.took_s == row.took_s
            assert one.took_s > 0


def test_an_added_step_is_no_step_of_the_revision() -> None:
    run = Run(MADE).mark(a_1=70)
    row = replace(as_run(run.at(80))[0], id="added-1/1")
    assert row.id not in {each.step.id for each in durations(MADE, [past(run)])}
