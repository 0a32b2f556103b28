"""Where the lead was won and lost: the changes add up, and each is put down to what brought it about."""

from itertools import pairwise

from hypothesis import given

from app.core.commands import GiveGo, MarkStep, PutOff, ReviseTakes, SetNotNeeded
from app.core.commands_live import CorrectMark
from app.core.events import Logged
from app.core.fold import fold
from app.core.lead_course import Course, losses
from app.core.lead_moves import How, LeadMove, LeadStory, lead_story
from app.core.lead_so_far import LeadPoint, lead_point
from app.core.lead_way import Way
from app.core.procedure import Procedure
from app.core.situation import Prepared, Situation
from app.core.state import EMPTY
from tests.core.building import link, procedure, step, task
from tests.core.running import Run
from tests.core.told_runs import SETTINGS, told_runs


def story_of(run: Run, end_s: int) -> LeadStory:
    return lead_story(Way(run.prepared, run.log, end_s))


def changes(run: Run, end_s: int) -> list[tuple[How, int, int, int, str | None]]:
    """(how, from, to, change, step) of the team's, the largest first."""
    story = story_of(run, end_s)
    return [(move.how, move.from_s, move.to_s, move.lead_s, move.step) for move in story.team]


@SETTINGS
@given(told=told_runs())
def test_the_changes_add_up_to_the_lead_at_the_end_for_the_team_and_each_person(told: tuple[Procedure, Run]) -> None:
    made, run = told
    story = story_of(run, run.now_s)
    point = lead_point(Prepared(made), run.state, run.now_s)
    assert sum(move.lead_s for move in story.team) == point.team_s
    assert tuple(sum(move.lead_s for move in moves) for _, moves in story.people) == point.people


@SETTINGS
@given(told=told_runs())
def test_up_to_any_second_they_add_up_to_what_a_past_moment_shows(told: tuple[Procedure, Run]) -> None:
    made, run = told
    prepared = Prepared(made)
    for second in sorted({each.at_s for each in run.log})[:4]:
        story = lead_story(Way(prepared, run.log, second))
        then = lead_point(prepared, fold(run.log, until_s=second), second)
        assert sum(move.lead_s for move in story.team) == then.team_s


@SETTINGS
@given(told=told_runs())
def test_each_change_is_told_once_and_the_largest_first(told: tuple[Procedure, Run]) -> None:
    _, run = told
    moves = story_of(run, run.now_s).team
    assert [abs(move.lead_s) for move in moves] == sorted((abs(move.lead_s) for move in moves), reverse=True)
    assert all(move.lead_s and 0 <= move.from_s <= move.to_s <= run.now_s and move.words for move in moves)
    assert len({(move.how, move.from_s, move.step, move.seq, move.words) for move in moves}) == len(moves)
    for move in moves:
        assert (move.seq is None) is (move.how is not How.ENTRY)


@SETTINGS
@given(told=told_runs())
def test_what_ran_over_was_open_and_past_its_time_at_the_end_of_its_last_spell(told: tuple[Procedure, Run]) -> None:
    _, run = told
    for move in story_of(run, run.now_s).team:
        if move.how in (How.RAN_OVER, How.AT_HOLD) and move.step is not None:
            before = fold(run.log, until_s=move.to_s - 1)
            then = Situation(run.prepared, before, move.to_s)
            number = then.network.index[move.step]
            assert then.is_open(number)
            assert then.projection.times(number)[1] == move.to_s


@SETTINGS
@given(told=told_runs(windows=False))
def test_straight_lines_through_the_points_are_the_lead_at_every_second(told: tuple[Procedure, Run]) -> None:
    made, run = told
    prepared, points = Prepared(made), Way(run.prepared, run.log, run.now_s).points()
    assert (points[0].at_s, points[-1].at_s) == (0, run.now_s)
    for left, right in pairwise(points):
        for second in {left.at_s, (left.at_s + right.at_s) // 2, right.at_s - 1}:
            shown = lead_point(prepared, fold(run.log, until_s=second), second)
            gone_s, lasts_s = second - left.at_s, right.at_s - left.at_s
            for lead_s, from_s, to_s in zip(_leads(shown), _leads(left), _leads(right), strict=True):
                assert (lead_s - from_s) * lasts_s == (to_s - from_s) * gone_s


def _leads(point: LeadPoint) -> tuple[int, ...]:
    return point.team_s, *point.people


@SETTINGS
@given(told=told_runs())
def test_each_point_is_what_a_past_moment_shows_windows_or_not(told: tuple[Procedure, Run]) -> None:
    made, run = told
    prepared, way = Prepared(made), Way(run.prepared, run.log, run.now_s)
    for point in way.points():
        assert point == lead_point(prepared, fold(run.log, until_s=point.at_s), point.at_s)
    assert way.points(people=False)[-1] == LeadPoint(run.now_s, way.points()[-1].team_s, ())


TWO = procedure(task("a", [100, 50], who="EV1"), task("b", [60], who="EV2"), task("c", [40], who="EV2", after=["a"]))


def test_a_step_that_ends_early_wins_what_it_saved() -> None:
    assert changes(Run(TWO).mark(a_1=70), 80) == [(How.ENTRY, 70, 70, 30, "a/1")]


def test_a_step_that_runs_over_loses_it_second_by_second_and_not_at_its_mark() -> None:
    run = Run(TWO).mark(a_1=130)
    assert changes(run, 130) == [(How.RAN_OVER, 100, 130, -30, "a/1")]


def test_an_overrun_that_only_uses_up_float_costs_the_team_nothing_but_its_person() -> None:
    run = Run(TWO).mark(b_1=95)
    assert changes(run, 95) == []
    people = dict(story_of(run, 95).people)
    assert [(move.how, move.lead_s, move.step) for move in people["EV2"]] == [
        (How.RAN_OVER, -35, "b/1"),
        (How.ENTRY, 35, "b/1"),
    ]


def test_spells_of_one_step_between_other_marks_are_one_row() -> None:
    run = Run(TWO)
    run.mark(b_1=120)
    run.mark(a_1=150)
    assert changes(run, 150) == [(How.RAN_OVER, 100, 150, -50, "a/1")]


def test_a_hold_that_waits_is_told_as_a_hold() -> None:
    made = procedure(task("stop", [step(60, "All clear?", go=("EV2",))], who="EV1"), crew=("EV1", "EV2"))
    run = Run(made)
    run.order(GiveGo("stop/1", "EV2"), 200)
    run.mark(stop_1=200)
    assert changes(run, 200) == [(How.AT_HOLD, 60, 200, -140, "stop/1")]
    assert story_of(run, 200).team[0].words == "Waited at the hold: “All clear?” (stop/1)"


def test_a_missed_window_is_told_with_what_ran_over() -> None:
    made = procedure(
        task("a", [10], who="EV1"), task("b", [10], who="EV1", within="pass"), windows={"pass": [(0, 40), (100, 200)]}
    )
    run = Run(made).mark(a_1=50)
    found = changes(run, 50)
    assert found == [(How.WINDOW, 30, 31, -70, "a/1"), (How.RAN_OVER, 10, 30, -20, "a/1")]
    words = story_of(run, 50).team[0].words
    assert words == "Missed its window: “Do b 1” (b/1), as this ran over: “Do a 1” (a/1)"


def test_decisions_win_and_lose_with_their_words() -> None:
    made = procedure(task("a", [100], who="EV1"), task("b", [80], who="EV1", may_put_off=True))
    run = Run(made)
    run.order(ReviseTakes("a/1", 160, "stiff"), 20)
    run.order(PutOff("b", "no time"), 30)
    story = story_of(run, 40).team
    assert [(move.lead_s, move.words) for move in story] == [
        (80, "Put off: “Task b”. no time"),
        (-60, "Takes 2m 40s, plan 1m 40s: “Do a 1” (a/1). stiff"),
    ]


def test_a_mark_that_was_taken_to_an_earlier_time_is_told_there() -> None:
    run = Run(TWO).mark(a_1=90)
    run.order(CorrectMark("a/1", "misheard"), 95, 60)
    assert changes(run, 96) == [(How.ENTRY, 60, 60, 40, "a/1")]


def test_a_mark_that_was_corrected_to_later_has_won_nothing_at_its_first_time() -> None:
    run = Run(TWO).mark(a_1=50)
    run.order(CorrectMark("a/1", "misheard"), 95, 80)
    assert changes(run, 96) == [(How.ENTRY, 80, 80, 20, "a/1")]


def test_two_marks_of_one_second_are_two_rows() -> None:
    made = procedure(task("a", [100], who="EV1"), task("b", [90], who="EV2"), task("c", [10], after=["a", "b"]))
    run = Run(made).mark(a_1=60, b_1=60)
    assert changes(run, 60) == [(How.ENTRY, 60, 60, 30, "b/1"), (How.ENTRY, 60, 60, 10, "a/1")]


def test_of_two_that_run_over_the_one_that_the_finish_waits_for_is_blamed() -> None:
    made = procedure(
        task("a", [100], who="EV1"),
        task("b", [50], who="EV2"),
        task("c", [60], who="EV2", after=["b"]),
        task("d", [10], who="EV1", after=["a"]),
    )
    run = Run(made)
    assert changes(run, 150) == [(How.RAN_OVER, 50, 150, -100, "b/1")]


def test_a_long_silence_is_told_in_few_looks() -> None:
    looks: list[int] = []

    class Counting(Course):
        def lead_s(self, at_s: int, seat: int | None) -> int:
            looks.append(at_s)
            return super().lead_s(at_s, seat)

    course = Counting(Situation(Prepared(TWO), EMPTY, 0))
    found = list(losses(course, None, 0, 30_000_000))
    assert [(loss.from_s, loss.to_s, loss.lead_s) for loss in found] == [(100, 30_000_000, -29_999_900)]
    assert len(looks) < 20


def test_what_happened_after_the_end_is_left_out() -> None:
    run = Run(TWO).mark(a_1=70, a_2=90)
    assert changes(run, 80) == [(How.ENTRY, 70, 70, 30, "a/1")]


def test_a_step_set_not_needed_and_one_marked_against_its_prerequisite_are_told() -> None:
    run = Run(TWO)
    run.order(SetNotNeeded("a/2", "done before"), 10)
    run.order(MarkStep("c/1", ordered_because="it was quick"), 20)
    found = story_of(run, 20).team
    assert sum(move.lead_s for move in found) == run.at(20).lead_s
    assert "Not needed: “Do a 2” (a/2). done before" in [move.words for move in found]
    assert all(isinstance(move, LeadMove) for move in found)


def test_a_wait_between_steps_runs_on_by_itself_and_costs_nothing() -> None:
    made = procedure(task("a", [30], who="EV1"), task("b", [30], who="EV2", after=[link("a", 600)]))
    log: list[Logged] = Run(made).mark(a_1=30).log
    assert lead_story(Way(Prepared(made), log, 600)).team == ()
