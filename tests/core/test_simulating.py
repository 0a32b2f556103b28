"""What simulated people do: always the same of a seed, at its own moment, never for anybody else, and to the end."""

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.core.commands_rehearsal import NoteInjectDone, SetPlayers
from app.core.events import RunEnded
from app.core.procedure import Designator, Procedure
from app.core.simulated import simulate
from app.core.simulating import acts, due
from app.core.situation import Prepared, Situation
from app.core.trouble import draw_trouble
from tests.core.guesses import CREW
from tests.core.live import LIVE
from tests.core.running import Run
from tests.core.simulations import ZERO, about, events, full_procedures, next_start_s, trainee_does

SETTINGS = settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
seeds = st.integers(0, 10_000)


@SETTINGS
@given(full_procedures(), seeds, st.integers(0, 6))
def test_a_run_of_simulated_people_ends_whatever_the_procedure_and_the_trouble(
    made: Procedure, seed: int, count: int
) -> None:
    prepared = Prepared(made)
    run = simulate(prepared, "r", ZERO, seed, draw_trouble(prepared, seed, count))
    assert isinstance(events(run)[-1], RunEnded)
    nominal = {step.id for task in made.tasks if not task.get_ahead for step in task.steps}
    assert set(run.state.done) == nominal, "nothing is left out, and nothing is taken"
    seconds = [order.at_s for order in run.orders]
    assert seconds == sorted(seconds)


@SETTINGS
@given(full_procedures(), seeds)
def test_the_same_seed_makes_the_same_run(made: Procedure, seed: int) -> None:
    prepared = Prepared(made)
    trouble = draw_trouble(prepared, seed, 3)
    assert simulate(prepared, "r", ZERO, seed, trouble) == simulate(prepared, "r", ZERO, seed, trouble)


def _mixed(made: Procedure, players: frozenset[Designator], seed: int) -> Run:
    """A run in which trainees do at once all that is theirs, between what simulated people do."""
    run = Run(made)
    run.order(SetPlayers(tuple(players), seed), 0)
    now_s = 0
    while True:
        if trainee_does(run, players, now_s):
            continue
        coming, starts_s = acts(run.at(now_s)), next_start_s(run.at(now_s))
        if starts_s is not None and (not coming or starts_s < coming[0].at_s):
            now_s = starts_s
            continue
        if not coming or coming[0].at_s > 40_000:
            return run
        act, now_s = coming[0], max(now_s, coming[0].at_s)
        assert about(run.at(now_s), act.command) <= players, act
        assert not act.by or act.by in players
        run.order(act.command, now_s, act.at_s)
        if act.inject:
            run.order(NoteInjectDone(act.inject), now_s)


@SETTINGS
@given(full_procedures(), st.sets(st.sampled_from(CREW), min_size=1, max_size=2), seeds)
def test_nobody_simulated_marks_or_answers_for_a_trainee_and_together_they_come_to_the_end(
    made: Procedure, players: set[Designator], seed: int
) -> None:
    run = _mixed(made, frozenset(players), seed)
    assert run.state.ended_s is None, "who ends it is the trainee"
    situation = run.at(run.now_s)
    left = [situation.id(number) for number in range(len(made.steps)) if situation.is_open(number)]
    assert not left


@SETTINGS
@given(full_procedures(), seeds, st.integers(0, 500))
def test_simulated_people_alone_leave_a_trainees_work_to_the_trainee(made: Procedure, seed: int, seconds: int) -> None:
    run = Run(made)
    run.order(SetPlayers(("EV2",), seed), 0)
    while (coming := due(run.at(seconds))) and len(run.log) < 300:
        assert about(run.at(seconds), coming[0].command) <= {"EV2"}
        run.order(coming[0].command, seconds, coming[0].at_s)
    assert all(set(run.at(seconds).step(step).who) <= {"EV2"} for step in run.state.done)


@SETTINGS
@given(full_procedures(), seeds, st.data())
def test_what_comes_next_does_not_depend_on_when_it_is_asked(made: Procedure, seed: int, data: st.DataObject) -> None:
    prepared = Prepared(made)
    whole = simulate(prepared, "r", ZERO, seed, draw_trouble(prepared, seed, 2))
    run = Run(made)
    for order in whole.orders[: data.draw(st.integers(1, len(whole.orders) - 1))]:
        run.order(order.command, order.at_s)
    first = acts(run.at(run.now_s))
    for later_s in data.draw(st.lists(st.integers(0, 3_000), max_size=3)):
        assert acts(Situation(run.prepared, run.state, run.now_s + later_s)) == first


def test_nobody_is_simulated_in_a_run_without_players_nor_in_one_that_has_ended() -> None:
    made = Prepared(LIVE)
    assert acts(Run(LIVE).at(100)) == ()
    ended = simulate(made, "r", ZERO, 1)
    assert acts(Situation(made, ended.state, 99_999)) == ()
