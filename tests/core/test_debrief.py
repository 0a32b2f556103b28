"""The debrief: planned against actual, holds, work beside the plan, decisions, and what belongs to what."""

from hypothesis import given

from app.core.as_run import as_run
from app.core.commands import AddNote, AddStep, EndRun, GiveBackWork, GiveGo, GiveNoGo, PutBack, PutOff, TakeWork
from app.core.commands_live import AnswerPoll, CallPoll, CorrectMark
from app.core.debrief import Debrief, around, debrief
from app.core.debrief_again import worked
from app.core.debrief_times import covered_s
from app.core.events_rehearsal import InjectDone, InjectSet
from app.core.procedure import Procedure
from tests.core.building import procedure, step, task
from tests.core.running import Run, logged
from tests.core.told_runs import SETTINGS, told_runs

MADE = procedure(
    task("a", [100, 50], who="EV1"),
    task("b", [60], who="EV2", may_put_off=True),
    task("stop", [step(60, "All clear?", go=("EV1", "EV2", "GROUND"))], who="ARM", after=["a"]),
    task("in", [30], who=("EV1", "EV2"), after=["stop"]),
    task("tray", [40], who="EV2", get_ahead=True),
    crew=("EV1", "EV2", "ARM", "GROUND"),
    finish_s=1000,
    close_out="in",
)


def told(run: Run, now_s: int) -> Debrief:
    return debrief(run.prepared, run.log, now_s)


@SETTINGS
@given(run_of=told_runs())
def test_any_run_can_be_told_and_says_what_the_screens_say(run_of: tuple[Procedure, Run]) -> None:
    _, run = run_of
    found, shown = told(run, run.now_s), run.at(run.now_s)
    assert (found.at_end.lead_s, found.at_end.finish_s, found.at_end.room_s) == (
        shown.lead_s,
        shown.projection.end_s,
        shown.room_s,
    )
    assert [person.lead_s for person in found.people] == [view.lead_s for view in shown.crew]
    assert found.steps == worked(shown, run.log).steps
    assert [(row.finish_s, row.state) for row in found.steps] == [(row.finish_s, row.state) for row in as_run(shown)]
    for person in found.people:
        assert person.worked_s >= 0
        assert person.waited_s >= 0
        if person.start_s is not None and person.finish_s is not None:
            assert person.worked_s + person.waited_s == person.finish_s - person.start_s
    for each in found.tasks:
        assert 0 <= each.done <= each.of
        assert (each.finish_s is not None) is (each.state == "done")
    for decision in found.decisions:
        assert decision.words
    assert sum(move.lead_s for move in found.lead.team) == found.at_end.lead_s


@SETTINGS
@given(run_of=told_runs())
def test_what_was_known_at_a_decision_is_the_log_up_to_it(run_of: tuple[Procedure, Run]) -> None:
    _, run = run_of
    for decision in told(run, run.now_s).decisions:
        before = Run(run.prepared.procedure)
        before.log = [logged for logged in run.log if logged.seq < decision.seq]
        shown = before.at(decision.logged_s)
        assert (decision.before.lead_s, decision.before.finish_s) == (shown.lead_s, shown.projection.end_s)
        after = Run(run.prepared.procedure)
        after.log = [logged for logged in run.log if logged.seq <= decision.seq]
        assert decision.after.lead_s == after.at(decision.logged_s).lead_s


def test_a_mark_heard_after_a_decision_was_not_known_at_it() -> None:
    run = Run(MADE)
    run.order(PutOff("b", "late"), 130)
    run.mark(a_1=60)
    (decision,) = told(run, 140).decisions
    assert decision.before.lead_s == -30
    assert (decision.after.lead_s, run.at(140).lead_s) == (-30, 10)


def test_tasks_and_people_have_their_plan_beside_what_they_did() -> None:
    run = Run(MADE).mark(a_1=110, b_1=50, a_2=170)
    found = told(run, 200)
    a, b, *_ = found.tasks
    assert (a.plan_start_s, a.plan_finish_s, a.start_s, a.finish_s, a.finish_shift_s) == (0, 150, 0, 170, 20)
    assert (b.finish_s, b.finish_shift_s, b.state) == (50, -10, "done")
    ev1, ev2, arm, ground = found.people
    assert (ev1.start_s, ev1.finish_s, ev1.worked_s, ev1.waited_s, ev1.plan_work_s) == (0, 170, 170, 0, 180)
    assert (arm.start_s, arm.finish_s, arm.worked_s, arm.done, arm.of) == (170, 200, 30, 0, 1)
    assert (ground.start_s, ground.worked_s, ground.of) == (None, 0, 0)
    assert (ev2.done, ev2.of) == (1, 2)


def test_time_that_two_steps_share_is_worked_once() -> None:
    assert covered_s([(0, 10), (5, 20), (30, 40), (32, 35)]) == 30
    assert covered_s([]) == 0


def test_a_hold_says_how_long_it_waited_for_whom_the_longest_first() -> None:
    run = Run(MADE).mark(a_1=100, a_2=150)
    run.order(GiveGo("stop/1", "GROUND"), 150)
    run.order(GiveNoGo("stop/1", "EV2", "tether"), 170)
    run.order(GiveGo("stop/1", "EV1"), 180)
    run.order(GiveGo("stop/1", "EV2", "untangled"), 230)
    run.mark(stop_1=240)
    (hold,) = told(run, 240).holds
    assert (hold.reached_s, hold.done_s, hold.waited_s, hold.after_s) == (150, 240, 80, 10)
    assert [(wait.person, wait.waited_s, wait.go_s) for wait in hold.waits] == [
        ("EV2", 80, 230),
        ("EV1", 30, 180),
        ("GROUND", 0, 150),
    ]
    assert [(said.person, said.go, said.reason) for said in hold.answers] == [
        ("GROUND", True, ""),
        ("EV2", False, "tether"),
        ("EV1", True, ""),
        ("EV2", True, "untangled"),
    ]


def test_a_hold_that_waits_still_waits_to_the_end_and_one_not_reached_is_left_out() -> None:
    run = Run(MADE).mark(a_1=100)
    assert told(run, 140).holds == ()
    run.mark(a_2=150)
    (hold,) = told(run, 400).holds
    assert (hold.done_s, hold.waited_s, hold.after_s) == (None, 250, None)
    assert {wait.go_s for wait in hold.waits} == {None}


def test_a_poll_is_told_like_a_hold() -> None:
    run = Run(MADE)
    run.order(CallPoll("Go for power?", ("EV1", "EV2")), 50)
    run.order(AnswerPoll("poll-1", "EV2", True), 55)
    run.order(AnswerPoll("poll-1", "EV1", True), 95)
    (poll,) = told(run, 200).polls
    assert (poll.called_s, poll.closed_s, poll.waited_s) == (50, 95, 45)
    assert [(wait.person, wait.waited_s) for wait in poll.waits] == [("EV1", 45), ("EV2", 5)]


def test_put_off_work_says_when_by_whom_why_and_what_became_of_it() -> None:
    run = Run(MADE)
    run.order(PutOff("b", "no light"), 20)
    run.order(PutBack("b", "light again"), 40)
    run.order(PutOff("b", "no light again"), 60)
    run.order(TakeWork("tray"), 70)
    run.order(GiveBackWork("tray"), 80)
    found = {each.task: each for each in told(run, 90).work}
    assert [(turn.what, turn.at_s, turn.by) for turn in found["b"].turns] == [
        ("put off", 20, "desk"),
        ("put back", 40, "desk"),
        ("put off", 60, "desk"),
    ]
    assert found["b"].turns[0].words == "Put off: “Task b”. no light"
    assert found["b"].fate == "put off; would carry over if the run ended now"
    assert (found["tray"].get_ahead, found["tray"].fate) == (True, "given back")
    run.order(EndRun("weather"), 100)
    ended = told(run, 100)
    assert {each.task: each.fate for each in ended.work}["b"] == "put off and carries over"
    assert [(each.task, each.steps, each.why) for each in ended.carried] == [
        ("a", 2, "not begun"),
        ("stop", 1, "not begun"),
        ("b", 1, "put off: no light again"),
    ]


def test_a_get_ahead_item_says_when_it_was_offered_taken_and_done() -> None:
    run = Run(MADE).mark(b_1=40)
    run.order(TakeWork("tray"), 50)
    run.mark(tray_1=85)
    (tray,) = told(run, 90).work
    assert (tray.fate, tray.start_s, tray.finish_s) == ("done", 50, 85)
    assert [turn.what for turn in tray.turns] == ["taken"]
    assert tray.offered == (40,)
    assert tray.looked == 3


def test_a_note_stands_beside_the_change_that_it_belongs_to() -> None:
    run = Run(MADE)
    run.order(AddNote("The latch was stiff.", "a/1"), 90)
    run.order(AddNote("Wind at five.", None), 120)
    run.order(AddNote("ARM was away.", None, "ARM"), 125)
    run.mark(a_1=180)
    run.order(AddNote("Tea.", None), 900)
    found = told(run, 900)
    move = next(each for each in found.lead.team if each.step == "a/1")
    assert [remark.words for remark in around(found, move)] == [
        "Note on “Do a 1” (a/1): The latch was stiff.",
        "Note on the run: Wind at five.",
    ]


def test_added_steps_and_corrected_marks_are_decisions_with_their_words() -> None:
    run = Run(MADE).mark(b_1=40)
    run.order(CorrectMark("b/1", "misheard"), 60, 55)
    run.order(AddStep("Look again", ("EV2",), 30, None, (), "to be sure"), 70)
    found = told(run, 80).decisions
    assert [decision.words[0].split(":")[0] for decision in found] == ["Mark corrected", "Added"]
    assert [decision.logged_s for decision in found] == [60, 70]


def test_a_poll_that_closed_by_itself_was_nobody_s_decision() -> None:
    run = Run(MADE)
    run.order(CallPoll("Go for power?", ("EV1",)), 50)
    run.order(AnswerPoll("poll-1", "EV1", True), 55)
    assert told(run, 60).decisions == ()


def test_trouble_of_a_rehearsal_is_told_once_it_has_ended() -> None:
    run = Run(MADE)
    for event in (
        InjectSet("inject-1", "delay", 60, "the latch is frozen", step="a/1", by_s=90),
        InjectDone("inject-1"),
    ):
        run.log.append(logged(len(run.log) + 1, 70, event))
    run.mark(a_1=180)
    assert told(run, 200).remarks == ()
    run.order(EndRun("over"), 210)
    found = told(run, 210)
    words = "Trouble took effect: inject-1: delay of 1m 30s at “Do a 1” (a/1): the latch is frozen"
    assert [remark.words for remark in found.remarks] == [words]
    move = next(each for each in found.lead.team if each.step == "a/1")
    assert [remark.words for remark in around(found, move)] == [words]
