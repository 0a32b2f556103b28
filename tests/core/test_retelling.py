"""The log told in order of time: each second's state is the one that a past moment shows."""

from hypothesis import given
from hypothesis import strategies as st

from app.core.commands_live import CorrectMark
from app.core.events import Logged, NoteAdded, StepMarked
from app.core.fold import fold, happened_s
from app.core.procedure import Procedure
from app.core.retelling import moves_lead, retold
from app.core.situation import Prepared, Situation
from app.core.state import State
from tests.core.building import procedure, task
from tests.core.guesses import procedures, runs
from tests.core.running import Run, logged
from tests.core.told_runs import SETTINGS, told_runs

MADE = procedure(task("a", [60, 60], who="EV1"), task("b", [30], who="EV2"))


def leads(made: Procedure, state: State, at_s: int) -> tuple[int, ...]:
    shown = Situation(Prepared(made), state, at_s)
    return shown.lead_s, *(view.lead_s for view in shown.crew)


def same_as_past_moments(made: Procedure, log: tuple[Logged, ...]) -> None:
    last = {each.at_s: each.state for each in retold(log)}
    for at_s, state in last.items():
        whole = fold(log, until_s=at_s)
        assert (state.done, state.started, state.not_needed) == (whole.done, whole.started, whole.not_needed)
        assert (state.put_off, state.taken, state.off_since) == (whole.put_off, whole.taken, whole.off_since)
        assert (state.takes, state.added, state.reordered) == (whole.takes, whole.added, whole.reordered)
        assert leads(made, state, at_s) == leads(made, whole, at_s)


@SETTINGS
@given(told=told_runs())
def test_whatever_was_ordered_each_second_has_the_state_that_a_past_moment_shows(told: tuple[Procedure, Run]) -> None:
    made, run = told
    same_as_past_moments(made, tuple(run.log))


@SETTINGS
@given(data=st.data())
def test_each_second_has_the_state_that_a_past_moment_shows(data: st.DataObject) -> None:
    made = data.draw(procedures())
    _, log, _ = data.draw(runs(made))
    same_as_past_moments(made, log)


def test_a_mark_that_was_heard_late_is_told_where_it_happened() -> None:
    log = (
        logged(1, 30, StepMarked("b/1")),
        logged(2, 70, StepMarked("a/1")),
        logged(3, 50, StepMarked("a/2"), logged_s=80),
    )
    assert [(each.at_s, each.logged.seq) for each in retold(log)] == [(30, 1), (50, 3), (70, 2)]


def test_a_mark_that_was_corrected_to_later_falls_away_at_its_first_time() -> None:
    run = Run(MADE).mark(a_1=50)
    run.order(CorrectMark("a/1", reason="heard wrongly"), 90, 65)
    told = [(each.at_s, dict(each.state.done).get("a/1")) for each in retold(run.log)]
    assert [at_s for at_s, _ in told] == [50, 50, 65]
    assert told[1][1] is None
    assert told[2][1] is not None
    same_as_past_moments(MADE, tuple(run.log))


def test_many_late_entries_are_put_in_far_from_the_end() -> None:
    made = procedure(*(task(f"t{number}", [10], who="EV1") for number in range(300)))
    order = [number + (40 if number % 3 == 0 else 0) for number in range(300)]
    log = tuple(logged(seq, at_s, StepMarked(f"t{seq - 1}/1")) for seq, at_s in enumerate(order, start=1))
    same_as_past_moments(made, log)
    assert sorted(happened_s(each) for each in log) == [each.at_s for each in retold(log)]


def test_what_moves_no_lead_is_left_out() -> None:
    log = (logged(1, 10, NoteAdded("windy")), logged(2, 30, StepMarked("b/1")))
    assert not moves_lead(log[0].event)
    assert [each.logged.seq for each in retold(log)] == [2]
