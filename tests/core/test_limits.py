"""The run's limit: the file's, or the supply that is at its reserve before it."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.choices import offers
from app.core.commands_live import StrikeEntry, TakeReading
from app.core.fold import fold
from app.core.forecast import Draws, forecast
from app.core.limits import RunLimit, run_limit, supply_states
from app.core.procedure import Limits
from app.core.turn_back import limit_s, turn_back
from tests.core.building import task
from tests.core.running import Run
from tests.core.station import STATION

FILE_S = 4 * 3600


def read(run: Run, person: str, *readings: tuple[int, float]) -> Run:
    for at_s, value in readings:
        run.order(TakeReading("battery", person, value), at_s)
    return run


def test_without_readings_the_file_sets_the_limit() -> None:
    assert Run(STATION).at(0).limit == RunLimit(FILE_S)
    assert Run(replace(STATION, limits=Limits())).at(0).limit is None


def test_the_supply_that_runs_out_first_sets_it_and_is_named() -> None:
    """75 % at 1:00 after 90 % at 0:30 is 30 % an hour: 63 % down to the reserve of 12 is 2 h 6 min more."""
    run = read(Run(STATION), "EV1", (1800, 90), (3600, 75))
    found = run.at(3600).limit
    assert found == RunLimit(3600 + 7560, "battery", "EV1")
    assert found is not None
    assert (found.words, found.by) == ("limit, EV1 battery at reserve", "EV1 battery at reserve")
    read(run, "EV2", (3700, 60), (4300, 50))
    assert run.at(4300).limit == RunLimit(4300 + 38 * 60, "battery", "EV2")


def test_a_gauge_that_lasts_longer_than_the_file_allows_does_not_matter() -> None:
    assert read(Run(STATION), "EV1", (1800, 90), (3600, 89)).at(3600).limit == RunLimit(FILE_S)


def test_room_turn_back_and_the_limit_of_the_choices_follow_a_reading() -> None:
    run = read(Run(STATION), "EV1", (1800, 90), (3600, 75))
    situation = run.at(3600)
    turning = turn_back(situation)
    assert turning is not None
    assert (limit_s(situation), turning.limit_s, turning.by_s) == (11_160, 11_160, 11_160 - 600)
    assert situation.room_s == 11_160 - situation.projection.end_s


def chance(run: Run, at_s: int) -> int:
    found = forecast(Draws(run.at(at_s), np.random.default_rng(1), 400))
    assert found is not None
    assert found.team.chance is not None
    return found.team.chance


def test_the_chance_follows_a_reading() -> None:
    """Plan finish 2:10:00; with the gauge at its reserve at 2:12:12, little room is left."""
    run = Run(STATION)
    before = chance(run, 60)
    read(run, "EV1", (0, 90), (60, 89.41))
    assert run.at(60).limit == RunLimit(7932, "battery", "EV1")
    assert before == 99
    assert chance(run, 60) < 70


def test_an_item_that_would_end_too_late_names_the_gauge_that_is_in_the_way() -> None:
    item = task("item", [600], who="EV1", get_ahead=True)
    run = Run(replace(STATION, tasks=(*STATION.tasks, item), least_lead_s=-3600))
    assert [offer.reason for offer in offers(run.at(60))] == [None]
    read(run, "EV1", (0, 90), (60, 89.41))
    (offer,) = offers(run.at(60))
    assert offer.reason == "close-out would end at 02:20:00, 7m 48s after the limit (EV1 battery at reserve)"


@pytest.mark.parametrize(
    ("values", "rise"),
    [
        ((90.0,), 0),
        ((90.0, 80.0), 0),
        ((90.0, 80.0, 87.8), 0),
        ((90.0, 80.0, 87.9), pytest.approx(7.9)),
        ((90.0, 80.0, 95.0, 94.0), 0),
    ],
)
def test_a_rise_by_more_than_a_tenth_of_the_way_to_the_reserve_is_no_wobble(values: tuple[float], rise: float) -> None:
    """From 90 to the reserve of 12 it is 78. Such a reading counts all the same."""
    run = read(Run(STATION), "EV1", *((600 * place, value) for place, value in enumerate(values)))
    (state, *_) = supply_states(STATION, run.state.watch)
    assert state.rise == rise
    assert len(state.readings) == len(values)


def test_a_reading_struck_out_gives_the_limit_back() -> None:
    run = read(Run(STATION), "EV1", (1800, 90), (3600, 15))
    assert run.at(3600).limit != RunLimit(FILE_S)
    run.order(StrikeEntry(len(run.log), "it was 75"), 3700)
    assert run.at(3700).limit == RunLimit(FILE_S)


def test_what_was_exchanged_begins_a_line_of_its_own() -> None:
    run = read(Run(STATION), "EV1", (1800, 90), (3600, 20))
    run.order(TakeReading("battery", "EV1", 100, anew=True), 3700)
    assert run.at(3700).limit == RunLimit(FILE_S)
    (state, *_) = supply_states(STATION, run.state.watch)
    assert [each.value for each in state.readings] == [100]


def test_at_its_reserve_a_supply_sets_the_limit_to_that_moment() -> None:
    assert read(Run(STATION), "EV2", (1800, 12)).at(5000).limit == RunLimit(1800, "battery", "EV2")


def test_a_past_moment_knows_only_the_readings_up_to_it() -> None:
    run = read(Run(STATION), "EV1", (1800, 90), (3600, 75))
    assert run_limit(FILE_S, supply_states(STATION, fold(run.log, until_s=3599).watch)) == RunLimit(FILE_S)
    assert run_limit(FILE_S, supply_states(STATION, fold(run.log, until_s=3600).watch)) != RunLimit(FILE_S)


@given(st.lists(st.tuples(st.sampled_from(["EV1", "EV2"]), st.integers(0, 9000), st.integers(0, 100)), max_size=12))
def test_the_limit_is_the_earliest_of_all_however_readings_are_entered(entered: list[tuple[str, int, int]]) -> None:
    run = Run(STATION)
    for person, at_s, value in entered:
        run.order(TakeReading("battery", person, value), 9000, at_s)
    found = run.at(9000).limit
    times = [state.left.until_s for state in supply_states(STATION, run.state.watch) if state.left.until_s is not None]
    assert found is not None
    assert found.at_s == min([FILE_S, *(math.floor(each) for each in times)])
    for state in supply_states(STATION, run.state.watch):
        assert [each.at_s for each in state.readings] == sorted(each.at_s for each in state.readings)
