"""Taking back the last press: a mark, a call, an action counted, and the ones that one press counted together."""

from app.core.commands import GiveGo, GiveNoGo, MarkStep, ReopenStep, SetNotNeeded, UndoMark
from app.core.commands_live import AcceptValues, ConfirmStep, CountAction
from app.core.events import StepReopened
from app.core.events_progress import ActionsDone, ActionsTakenBack
from app.core.undoing import Press
from tests.core.building import procedure, step, task
from tests.core.live import BAD, GOOD, LIVE
from tests.core.ordering import expect_refusal
from tests.core.running import Run, last_press
from tests.core.test_counts import counted

CALLED_BACK = StepReopened("seen/1", "undone", undone=True)


def test_a_call_is_taken_back_and_the_step_can_be_called_again() -> None:
    run = Run(LIVE)
    run.order(MarkStep("seen/1"), 50)
    assert last_press(run.at(55), "EV1") == Press("seen/1", "call", 50, 2, "called complete")
    assert run.order(UndoMark("seen/1"), 55) == (CALLED_BACK,)
    assert run.state.progress.called == {}
    expect_refusal(run, UndoMark("seen/1"), 56, "not-done")
    assert run.order(MarkStep("seen/1"), 60)


def test_a_call_is_not_the_last_press_once_its_people_have_gone_on_and_is_then_reopened() -> None:
    run = Run(LIVE)
    run.order(MarkStep("seen/1"), 50)
    run.mark(read_1=60)
    expect_refusal(run, UndoMark("seen/1"), 70, "not-last")
    assert last_press(run.at(70), "EV1") == Press("read/1", "mark", 60, 3, "done")
    assert run.order(ReopenStep("seen/1", "pin was loose"), 80) == (StepReopened("seen/1", "pin was loose"),)
    assert run.state.progress.called == {}


def test_an_action_is_taken_back_one_press_at_a_time() -> None:
    run = counted(Run(LIVE), "screws/1", 10, 20)
    assert last_press(run.at(25), "EV3") == Press("screws/1", "count", 20, 3, "counted 2 of 4")
    assert run.order(UndoMark("screws/1"), 25) == (ActionsTakenBack("screws/1", 1),)
    assert run.order(UndoMark("screws/1"), 26) == (ActionsTakenBack("screws/1", 0),)
    expect_refusal(run, UndoMark("screws/1"), 27, "not-done")
    assert not run.state.begun("screws")


def test_undoing_the_press_that_completed_a_count_takes_back_its_actions_too() -> None:
    run = counted(Run(LIVE), "screws/1", 10)
    run.order(MarkStep("screws/1"), 40)
    reopened = StepReopened("screws/1", "undone", undone=True)
    assert run.order(UndoMark("screws/1"), 45) == (reopened, ActionsTakenBack("screws/1", 1))
    assert [action.at_s for action in run.state.progress.counts["screws/1"]] == [10]
    counted(run, "screws/1", 50, 60, 70)
    assert run.order(UndoMark("screws/1"), 75) == (reopened, ActionsTakenBack("screws/1", 3))
    assert "screws/1" not in run.state.done


def test_undoing_a_call_that_the_last_action_made_takes_that_action_back() -> None:
    run = counted(Run(LIVE), "bolts/1", 10, 20)
    run.order(CountAction("bolts/1", 3, BAD), 30)
    taken_back = run.order(UndoMark("bolts/1"), 35)
    assert taken_back == (StepReopened("bolts/1", "undone", undone=True), ActionsTakenBack("bolts/1", 2))


def test_undoing_a_mark_that_only_brought_the_values_leaves_the_actions_counted() -> None:
    run = counted(Run(LIVE), "bolts/1", 10, 20, 30)
    run.order(MarkStep("bolts/1", GOOD), 40)
    assert run.order(UndoMark("bolts/1"), 45) == (StepReopened("bolts/1", "undone", undone=True),)
    assert len(run.state.progress.counts["bolts/1"]) == 3
    assert last_press(run.at(46), "EV3") == Press("bolts/1", "count", 30, 4, "counted 3 of 3")


def test_undoing_a_mark_that_an_acceptance_made_leaves_the_step_to_be_called_anew() -> None:
    run = Run(LIVE)
    run.order(MarkStep("both/1", BAD), 50)
    run.order(ConfirmStep("both/1", "EV2"), 55)
    run.order(AcceptValues("both/1", "worn"), 60)
    run.order(UndoMark("both/1"), 65)
    assert (run.state.done, run.state.progress.called) == ({}, {})


def test_a_joint_press_is_nobodys_to_take_back_once_one_of_its_people_has_gone_on() -> None:
    both = procedure(task("both", [60], who=("EV1", "EV2")), task("one", [60], who="EV2"))
    run = Run(both).mark(both_1=10)
    assert last_press(run.at(15), "EV1") == last_press(run.at(15), "EV2") == Press("both/1", "mark", 10, 2, "done")
    run.mark(one_1=20)
    assert last_press(run.at(25), "EV1") is None
    assert last_press(run.at(25), "EV2") == Press("one/1", "mark", 20, 3, "done")


def test_steps_of_nobody_have_their_own_last_press() -> None:
    run = Run(LIVE).mark(alone_1=10, read_1=20)
    assert last_press(run.at(25), None) == Press("alone/1", "mark", 10, 2, "done")


def test_actions_of_a_step_that_is_no_longer_needed_are_not_taken_back() -> None:
    run = counted(Run(LIVE), "screws/1", 10)
    run.order(SetNotNeeded("screws/1", "plate is out"), 20)
    assert last_press(run.at(25), "EV3") is None
    expect_refusal(run, UndoMark("screws/1"), 25, "not-done")


def test_several_actions_of_one_press_are_named_together() -> None:
    run = counted(Run(LIVE), "bolts/1", 10)
    run.log.append(
        run.log[-1].__class__(3, 20, 20, run.log[-1].logged_at, "desk", "t", "k", ActionsDone("bolts/1", 2, 3))
    )
    press = last_press(run.at(25), "EV3")
    assert press is not None
    assert press.words == "counted 2 to 3 of 3"


def test_goes_on_what_is_open_again_are_asked_for_again_and_a_no_go_stands() -> None:
    first = task("first", [60], who="EV1")
    stop = task("stop", [step(60, "Clear?", go=("EV1", "EV2"))], who="EV1", after=["first"])
    run = Run(procedure(first, stop, crew=("EV1", "EV2")))
    run.mark(first_1=60)
    run.order(GiveGo("stop/1", "EV1"), 70)
    run.order(GiveNoGo("stop/1", "EV2", "a rope in the way"), 71)
    (reopened,) = run.order(ReopenStep("first/1", "not tight"), 80)
    assert reopened == StepReopened("first/1", "not tight", asks_again=("stop/1",))
    run.mark(first_1=90)
    assert run.state.answer("stop/1", "EV1") is None
    answer = run.state.answer("stop/1", "EV2")
    assert answer is not None
    assert not answer.go


def test_undoing_asks_again_too() -> None:
    first = task("first", [60], who="EV1")
    stop = task("stop", [step(60, "Clear?", go=("EV2",))], who="EV2", after=["first"])
    run = Run(procedure(first, stop, crew=("EV1", "EV2")))
    run.mark(first_1=60)
    run.order(GiveGo("stop/1", "EV2"), 70)
    run.order(UndoMark("first/1"), 80)
    run.mark(first_1=90)
    expect_refusal(run, MarkStep("stop/1"), 100, "hold", "EV2")
