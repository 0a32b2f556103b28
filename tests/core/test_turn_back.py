"""How late close-out can start: by hand, at the edges of its phases, and against every second tried in turn."""

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.commands import EndRun, MarkStep, RecordStart, ReopenStep, SetNotNeeded
from app.core.passes import fit
from app.core.procedure import Procedure, Step
from app.core.turn_back import WARN_S, Phase, TurnBack, limit_s, turn_back
from tests.core.building import link, procedure, step, task
from tests.core.running import Run

HOME = procedure(
    task("work", [1000], who="EV1"),
    task("home", [300, 120, 60], who="EV1", after=["work"]),
    finish_s=6000,
    close_out="home",
)


def by_s(made: Procedure, at_s: int = 0) -> int | None:
    found = turn_back(Run(made).at(at_s))
    assert found is not None
    return found.by_s


def test_it_is_the_limit_minus_the_steps_of_close_out() -> None:
    found = turn_back(Run(HOME).at(100))
    assert found == TurnBack(6000 - 480, limit_s=6000, at_s=100)
    assert found.left_s == 5420


def test_work_before_close_out_does_not_move_it() -> None:
    late = Run(HOME)
    assert late.at(5000).projection.end_s > 5000
    assert by_s(HOME, 5000) == 5520


def test_there_is_none_without_a_limit_or_without_close_out() -> None:
    assert turn_back(Run(replace(HOME, limits=replace(HOME.limits, finish_s=None))).at(0)) is None
    assert turn_back(Run(replace(HOME, limits=replace(HOME.limits, close_out=None))).at(0)) is None
    assert limit_s(Run(HOME).at(0)) == 6000
    assert limit_s(Run(replace(HOME, limits=replace(HOME.limits, finish_s=None))).at(0)) is None


def test_it_is_counted_from_half_an_hour_before_and_its_own_second_is_the_last_moment() -> None:
    expected = {
        5520 - WARN_S - 1: Phase.LATER,
        5520 - WARN_S: Phase.SOON,
        5520: Phase.SOON,
        5521: Phase.PASSED,
    }
    for at_s, phase in expected.items():
        found = turn_back(Run(HOME).at(at_s))
        assert found is not None
        assert found.phase is phase, at_s


def test_it_goes_when_close_out_is_begun_by_a_mark_or_a_recorded_start_and_comes_back_when_that_is_undone() -> None:
    run = Run(HOME).mark(work_1=1000)
    run.order(RecordStart("home/1"), 1100)
    assert turn_back(run.at(1100)) is None
    run = Run(HOME).mark(work_1=1000)
    run.order(MarkStep("home/1"), 1300)
    assert turn_back(run.at(1300)) is None
    run.order(ReopenStep("home/1", "too early"), 1400)
    found = turn_back(run.at(1400))
    assert found is not None
    assert found.by_s == 5520


def test_close_out_that_only_could_be_under_way_is_not_begun() -> None:
    run = Run(HOME).mark(work_1=1000)
    assert run.step_state("home/1", 1010) == "under way"
    assert turn_back(run.at(1010)) is not None


def test_there_is_none_once_the_run_has_ended() -> None:
    run = Run(HOME)
    run.order(EndRun("called in"), 5800)
    assert turn_back(run.at(5900)) is None


def test_a_step_that_is_not_needed_drops_out_and_passes_on_its_wait() -> None:
    made = procedure(
        task("home", [300, step(120, after=[link("home/1", 50)]), 60], who="EV1"), finish_s=6000, close_out="home"
    )
    assert by_s(made) == 6000 - 60 - 120 - 50 - 300
    run = Run(made)
    run.order(SetNotNeeded("home/2", "shut already"), 0)
    found = turn_back(run.at(0))
    assert found is not None
    assert found.by_s == 6000 - 60 - 50 - 300


def test_there_is_none_when_no_step_of_close_out_is_needed() -> None:
    run = Run(HOME)
    for number in (1, 2, 3):
        run.order(SetNotNeeded(f"home/{number}", "all inside"), number)
    assert turn_back(run.at(10)) is None


def test_a_wait_that_skips_a_step_counts_where_it_is_longer() -> None:
    def made(wait_s: int) -> Procedure:
        steps: list[Step | int] = [300, 20, step(60, after=[link("home/1", wait_s)])]
        return procedure(task("home", steps, who="EV1"), finish_s=6000, close_out="home")

    assert by_s(made(500)) == 6000 - 60 - 500 - 300
    assert by_s(made(10)) == 6000 - 60 - 20 - 300


def test_a_wait_for_another_task_is_not_close_out_s_own() -> None:
    made = procedure(
        task("work", [1000], who="EV1"),
        task("home", [300], who="EV1", after=[link("work", 700)]),
        finish_s=6000,
        close_out="home",
    )
    assert by_s(made) == 5700


def test_a_window_moves_it_back_to_the_last_opening_that_the_step_fits() -> None:
    made = procedure(
        task("home", [300, step(120, within="dusk"), 60], who="EV1"),
        finish_s=6000,
        close_out="home",
        windows={"dusk": [(1000, 1100), (2000, 3000), (5950, 9000)]},
    )
    assert by_s(made) == 3000 - 120 - 300


def test_a_window_that_opens_too_late_leaves_no_moment_and_counts_as_passed() -> None:
    made = procedure(
        task("home", [300, step(120, within="dusk")], who="EV1"),
        finish_s=6000,
        close_out="home",
        windows={"dusk": [(5900, 9000)]},
    )
    found = turn_back(Run(made).at(0))
    assert found == TurnBack(None, limit_s=6000, at_s=0)
    assert found.left_s is None
    assert found.phase is Phase.PASSED


def test_an_earliest_start_moves_nothing_until_no_start_will_do() -> None:
    def made(not_before_s: int) -> Procedure:
        return procedure(
            task("home", [300, step(120, not_before_s=not_before_s)], who="EV1"), finish_s=6000, close_out="home"
        )

    assert by_s(made(5880)) == 5580
    assert by_s(made(5881)) is None


def test_a_limit_shorter_than_close_out_has_passed_before_the_run_begins() -> None:
    found = turn_back(Run(replace(HOME, limits=replace(HOME.limits, finish_s=400))).at(0))
    assert found == TurnBack(-80, limit_s=400, at_s=0)
    assert found.phase is Phase.PASSED


# Against every second tried in turn

LIMIT_S = 60


def _ends_s(made: Procedure, dropped: set[int], start_s: int) -> int | None:
    """When close-out ends, done forward from `start_s`; None if a step finds no opening, or the first must wait."""
    windows = {window.name: window.spans for window in made.windows}
    finish_s: dict[int, int] = {}
    for each in made.task("home").steps:
        ready_s = start_s if not finish_s else max(finish_s.values())
        ready_s = max([ready_s, *(finish_s[earlier] + wait_s for earlier, wait_s in _waits(made, dropped, each))])
        if each.number in dropped:
            continue
        # An earliest start of 0 is none; a limit that is too short leads below 0.
        moved = max(ready_s, each.not_before_s) if each.not_before_s else ready_s
        fits = fit(moved, each.takes.likely_s, windows[each.within]) if each.within else moved
        if fits is None or (not finish_s and fits != start_s):
            return None
        finish_s[each.number] = fits + each.takes.likely_s
    return max(finish_s.values())


def _waits(made: Procedure, dropped: set[int], each: Step) -> list[tuple[int, int]]:
    """What the step waits for within close-out, looking through what is dropped."""
    found: list[tuple[int, int]] = []
    links = [(each.number - 1, 0)] if each.number > 1 else []
    for earlier, wait_s in [*links, *((after.step or 0, after.wait_s) for after in each.after)]:
        if earlier in dropped:
            further = _waits(made, dropped, made.task("home").steps[earlier - 1])
            found += [(deeper, wait_s + more_s) for deeper, more_s in further]
        else:
            found.append((earlier, wait_s))
    return found


@st.composite
def close_outs(draw: st.DrawFn) -> tuple[Procedure, set[int]]:
    """A close-out of one to four steps with waits, windows and earliest starts, and which of them are not needed."""
    count = draw(st.integers(1, 4))
    steps = []
    for number in range(1, count + 1):
        earlier = draw(st.sets(st.integers(1, number - 1))) if number > 1 else set()
        steps.append(
            step(
                draw(st.integers(0, 12)),
                after=[link(f"home/{each}", draw(st.integers(0, 15))) for each in sorted(earlier)],
                not_before_s=draw(st.sampled_from([0, 0, 0, 20, 40])),
                within=draw(st.sampled_from([None, None, "dusk"])),
            )
        )
    opens = sorted(draw(st.sets(st.integers(0, 70), min_size=2, max_size=6)))
    spans = list(zip(opens[::2], opens[1::2], strict=False))
    made = procedure(
        task("home", steps, who="EV1"), finish_s=LIMIT_S, close_out="home", windows={"dusk": spans}, crew=("EV1",)
    )
    return made, draw(st.sets(st.integers(1, count), max_size=count - 1))


@given(close_outs())
@settings(max_examples=400, deadline=None)
def test_it_is_the_last_second_from_which_close_out_done_forward_ends_by_the_limit(
    drawn: tuple[Procedure, set[int]],
) -> None:
    made, dropped = drawn
    run = Run(made)
    for number in sorted(dropped):
        run.order(SetNotNeeded(f"home/{number}", "not this time"), 0)
    found = turn_back(run.at(0))
    assert found is not None
    good = [
        start_s
        for start_s in range(-200, LIMIT_S + 1)
        if (ends_s := _ends_s(made, dropped, start_s)) is not None and ends_s <= LIMIT_S
    ]
    assert found.by_s == max(good, default=None)
