"""Random trouble: the same of a seed, in proportion to what there is, and always something that can be ordered."""

from collections import Counter
from dataclasses import replace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.core.commands_rehearsal import SetInject
from app.core.procedure import Procedure
from app.core.situation import Prepared
from app.core.trouble import FAILS, draw_trouble
from tests.core.building import procedure, task
from tests.core.running import Run
from tests.core.simulations import full_procedures
from tests.core.station import STATION

SETTINGS = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
MANY = Prepared(
    replace(
        procedure(*(replace(task(f"t{number}", [60], who="EV1"), needs=("saw",)) for number in range(30))),
        tools=("saw", "file"),
    )
)


@SETTINGS
@given(full_procedures(), st.integers(0, 10_000), st.integers(0, 12))
def test_whatever_is_drawn_can_be_ordered(made: Procedure, seed: int, count: int) -> None:
    run = Run(made)
    for trouble in draw_trouble(Prepared(made), seed, count):
        run.order(trouble, 0)


def test_the_same_seed_draws_the_same_and_a_smaller_count_the_first_of_them() -> None:
    prepared = Prepared(STATION)
    assert draw_trouble(prepared, 5, 4) == draw_trouble(prepared, 5, 4)
    assert draw_trouble(prepared, 5, 2) == draw_trouble(prepared, 5, 4)[:2]
    assert draw_trouble(prepared, 5, 4) != draw_trouble(prepared, 6, 4)


def _place(trouble: SetInject) -> tuple[str | None, ...]:
    return trouble.step, trouble.name, trouble.supply, trouble.tool, trouble.person


def test_no_place_has_two_troubles_and_more_than_there_are_places_are_not_drawn() -> None:
    drawn = draw_trouble(MANY, 3, 1_000)
    assert len(drawn) == 31, "30 steps and the saw; nobody needs the file"
    assert len({_place(each) for each in drawn}) == 31


def test_trouble_is_in_proportion_to_what_there_is() -> None:
    """Of 31 places one is the saw; over 1,000 seeds of one trouble each, about 32, standard deviation 5.6."""
    kinds = Counter(draw_trouble(MANY, seed, 1)[0].what for seed in range(1_000))
    assert 10 < kinds["lost tool"] < 55
    assert abs(kinds["failed step"] / 1_000 - FAILS) < 0.06
    steps = Counter(draw_trouble(MANY, seed, 1)[0].step for seed in range(1_000))
    assert len(steps) == 31
    assert max(steps.values()) < 70


def test_what_is_drawn_says_something_and_has_a_size() -> None:
    for seed in range(50):
        for trouble in draw_trouble(MANY, seed, 5):
            assert trouble.text
            assert trouble.what != "delay" or 30 <= trouble.by_s <= 120
