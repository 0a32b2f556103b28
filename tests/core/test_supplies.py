"""How fast a supply runs out: the line against certified figures, the time left by hand."""

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.supplies import MOST_READINGS, Line, TimeLeft, line, time_to_reserve
from app.core.times import LONGEST_S

# NIST Statistical Reference Datasets, Norris (linear regression, lower difficulty), certified values.
NORRIS = json.loads((Path(__file__).parent.parent / "data" / "nist_norris.json").read_text(encoding="utf-8"))


def falling(count: int, by: float = 2.0) -> list[tuple[float, float]]:
    """A reading every ten minutes from 100 on, `by` less each time."""
    return [(600.0 * each, 100 - by * each) for each in range(count)]


def test_the_line_through_norris_has_the_certified_slope_and_intercept() -> None:
    """In double precision, sums about the means come within 5e-15 of the slope and 2e-13 of the intercept."""
    fitted = line(NORRIS["x"], NORRIS["y"])
    assert fitted is not None
    assert fitted.slope == pytest.approx(NORRIS["certified"]["b1"], rel=1e-13)
    assert fitted.intercept == pytest.approx(NORRIS["certified"]["b0"], rel=1e-12)


def test_the_line_is_that_of_numpy() -> None:
    fitted = line(NORRIS["x"], NORRIS["y"])
    slope, intercept = np.polyfit(NORRIS["x"], NORRIS["y"], 1)
    assert fitted is not None
    assert fitted.slope == pytest.approx(slope, rel=1e-12)
    assert fitted.intercept == pytest.approx(intercept, rel=1e-10)


def test_readings_late_in_a_long_run_lose_no_digits() -> None:
    """After 90 hours, ten seconds apart: sums that are not about the means would lose half of the digits here."""
    at_s = [324_000.0 + 10 * each for each in range(10)]
    fitted = line(at_s, [50 - 0.001 * (each - 324_000) for each in at_s])
    assert fitted is not None
    assert fitted.slope == pytest.approx(-0.001, rel=1e-10)


def test_a_line_needs_two_different_moments() -> None:
    assert line([], []) is None
    assert line([5], [1]) is None
    assert line([5, 5], [1, 2]) is None


def test_a_line_needs_as_many_values_as_moments() -> None:
    with pytest.raises(ValueError, match="as many x as y"):
        line([1, 2], [1])


def test_a_level_line_reaches_nothing() -> None:
    assert Line(0, 5).reaches_s(3) is None
    assert Line(-0.5, 5).reaches_s(3) == 4


def test_the_time_to_the_reserve_by_hand() -> None:
    """100, 98, 96 at 0, 10 and 20 minutes: 12 is 88 lower than 100, reached after 440 minutes."""
    told = time_to_reserve(falling(3), 12)
    assert told.why_not is None
    assert told.until_s == pytest.approx(440 * 60)


def test_a_line_that_does_not_go_through_its_readings_by_hand() -> None:
    """10, 8, 9 at 0, 1, 2: slope -1/2 through the mean (1, 9); it stands at 4 at second 11."""
    assert time_to_reserve([(0, 10), (1, 8), (2, 9)], 4).until_s == pytest.approx(11)


def test_readings_that_rise_or_stay_give_no_time_and_say_so() -> None:
    assert time_to_reserve(falling(3, by=-1), 12) == TimeLeft(None, "the readings don't fall")
    assert time_to_reserve(falling(3, by=0), 12) == TimeLeft(None, "the readings don't fall")


def test_no_reading_and_one_reading_give_no_time_and_say_so() -> None:
    assert time_to_reserve([], 12) == TimeLeft(None, "no reading yet")
    assert time_to_reserve(falling(1), 12) == TimeLeft(None, "one reading is no rate")


def test_at_the_reserve_or_below_it_the_time_is_that_of_the_last_reading() -> None:
    assert time_to_reserve([(0, 20), (600, 12)], 12) == TimeLeft(600, None)
    assert time_to_reserve([(0, 20), (600, 8)], 12) == TimeLeft(600, None)
    assert time_to_reserve([(300, 8)], 12) == TimeLeft(300, None)


def test_the_time_is_never_before_a_last_reading_that_is_above_the_reserve() -> None:
    """The line through 100, 20 and 15 stands at 12 at second 177.6, yet at second 200 there were 15."""
    readings = [(0.0, 100.0), (100.0, 20.0), (200.0, 15.0)]
    fitted_line = line(*zip(*readings, strict=True))
    assert fitted_line is not None
    assert fitted_line.reaches_s(12) == pytest.approx(177.647, abs=0.001)
    assert time_to_reserve(readings, 12) == TimeLeft(200, None)


def test_a_time_that_no_clock_reaches_is_none_and_says_so() -> None:
    """1 in 10,000 hours: 88 down to the reserve are 880,000 hours. And a level row falls by rounding alone."""
    told = time_to_reserve([(0, 100), (36_000, 99.999)], 12)
    assert told == TimeLeft(None, "at this rate it lasts 10,000 hours or more")
    assert time_to_reserve([(600.0 * each, 50.1) for each in range(3)], 12).until_s is None


@given(
    st.lists(st.tuples(st.integers(0, LONGEST_S - 1), st.floats(-1e12, 1e12)), max_size=12),
    st.floats(-1e6, 1e6),
)
def test_any_readings_give_a_time_in_the_reach_of_a_clock_or_say_why_not(
    readings: list[tuple[int, float]], reserve: float
) -> None:
    """The largest numbers that are taken, at any moments of the longest run."""
    readings = sorted(readings)
    told = time_to_reserve(readings, reserve)
    assert (told.until_s is None) == (told.why_not is not None)
    if told.until_s is not None:
        assert readings[-1][0] <= told.until_s < LONGEST_S


def test_only_the_last_ten_readings_count() -> None:
    """What came before them, however steep, changes nothing; with one of them more or less it would."""
    last = [(60_000 + at_s, value) for at_s, value in falling(MOST_READINGS)]
    steep = [(0.0, 5000.0), (100.0, 900.0)]
    assert MOST_READINGS == 10
    assert time_to_reserve([*steep, *last], 12) == time_to_reserve(last, 12)
    assert time_to_reserve([*steep, *last[1:]], 12) != time_to_reserve(last[1:], 12)
