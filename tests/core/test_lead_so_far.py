"""The lead at sampled moments: which moments, what each says, and which of them a reader needs."""

from hypothesis import given
from hypothesis import strategies as st

from app.core.fold import fold
from app.core.lead_so_far import MOST_SAMPLES, STEPS_S, LeadPoint, changes, lead_point, moments, step_for
from app.core.situation import Prepared, Situation
from app.core.state import EMPTY
from tests.core.building import procedure, task
from tests.core.guesses import procedures, runs

ENDS = st.integers(0, 9_999 * 3600)


@given(end_s=ENDS)
def test_no_run_has_more_than_240_samples_and_each_has_its_beginning_and_its_present(end_s: int) -> None:
    found = moments(end_s, step_for(end_s))
    assert len(found) <= MOST_SAMPLES
    assert found[0] == 0
    assert found[-1] == end_s
    assert list(found) == sorted(set(found))


@given(end_s=ENDS)
def test_the_step_is_the_finest_round_one_that_keeps_to_240(end_s: int) -> None:
    step_s = step_for(end_s)
    finer = [each for each in (*STEPS_S, 7200, 14400, 28800, 57600, 115200, 230400) if each < step_s]
    assert step_s in STEPS_S or step_s % 3600 == 0
    assert not finer or len(moments(end_s, finer[-1])) > MOST_SAMPLES


def test_two_hours_are_sampled_every_minute_and_a_run_of_no_length_once() -> None:
    assert step_for(7_100) == 30
    assert step_for(7_200) == 60
    assert step_for(36_000) == 300
    assert moments(0, 30) == (0,)
    assert moments(90, 30) == (0, 30, 60, 90)
    assert moments(100, 30) == (0, 30, 60, 90, 100)


@given(data=st.data())
def test_a_point_says_what_the_screens_say_at_that_second(data: st.DataObject) -> None:
    made = data.draw(procedures())
    _, log, now_s = data.draw(runs(made))
    prepared, state = Prepared(made), fold(log)
    shown = Situation(prepared, state, now_s)
    point = lead_point(prepared, state, now_s)
    assert point == LeadPoint(now_s, shown.lead_s, tuple(view.lead_s for view in shown.crew))


def test_an_overrunning_step_costs_its_person_and_the_team_second_by_second() -> None:
    prepared = Prepared(procedure(task("a", [60], who="EV1"), task("b", [30], who="EV2")))
    assert lead_point(prepared, EMPTY, 20) == LeadPoint(20, 0, (0, 0))
    assert lead_point(prepared, EMPTY, 50) == LeadPoint(50, 0, (0, -20))
    assert lead_point(prepared, EMPTY, 100) == LeadPoint(100, -40, (-40, -70))


def at(at_s: int, team_s: int, *people: int) -> LeadPoint:
    return LeadPoint(at_s, team_s, people)


def test_of_a_level_stretch_only_its_ends_are_rows() -> None:
    points = [at(second, 0, 0) for second in (0, 30, 60, 90, 100)]
    assert changes(points) == (points[0], points[-1])


def test_a_jump_has_the_row_before_it_and_after_it() -> None:
    points = [at(0, 0, 0), at(30, 0, 0), at(60, 0, 0), at(90, 0, 50), at(120, 0, 50), at(150, 0, 50)]
    assert changes(points) == (points[0], points[2], points[3], points[5])


def test_a_lead_that_is_lost_second_by_second_has_a_row_where_that_begins_and_where_it_ends() -> None:
    points = [at(0, 0), at(30, 0), at(60, -30), at(90, -60), at(120, -90), at(150, -90), at(151, -90)]
    assert changes(points) == (points[0], points[1], points[4], points[6])


LEADS = st.sampled_from([-60, -30, 0, 0, 0, 30, 45])


@given(leads=st.lists(st.tuples(LEADS, LEADS, LEADS), min_size=1, max_size=30), last_s=st.integers(1, 30))
def test_lines_through_the_rows_are_lines_through_all_points(leads: list[tuple[int, int, int]], last_s: int) -> None:
    seconds = [30 * place for place in range(len(leads))]
    seconds[-1] += last_s
    points = [at(second, *each) for second, each in zip(seconds, leads, strict=True)]
    rows = changes(points)
    assert rows[0] == points[0]
    assert rows[-1] == points[-1]
    for point in points:
        before = max((row for row in rows if row.at_s <= point.at_s), key=lambda row: row.at_s)
        after = min((row for row in rows if row.at_s >= point.at_s), key=lambda row: row.at_s)
        for here, left, right in zip(
            (point.team_s, *point.people), (before.team_s, *before.people), (after.team_s, *after.people), strict=True
        ):
            assert (here - left) * (after.at_s - before.at_s) == (right - left) * (point.at_s - before.at_s)
