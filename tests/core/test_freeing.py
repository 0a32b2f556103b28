"""What a putting off frees begins no earlier than that: idle time is not won back by it."""

import numpy as np

from app.core.commands import PutBack, PutOff, RecordStart, SetNotNeeded
from app.core.forecast import Draws, forecast, team_chance
from app.core.putting_off import options
from tests.core.building import procedure, task
from tests.core.running import Run

MADE = procedure(
    task("dig", [100], who="EV1"),
    task("photo", [50], who="EV1", not_before_s=1000, may_put_off=True),
    task("home", [200], who="EV1", after=["dig"]),
    task("watch", [60], who="EV2", after=["photo"], may_put_off=True),
    task("call", [30], who="EV2", after=["dig"]),
    finish_s=1300,
    close_out="home",
)
"""EV1 digs until 100 and then stands idle until the photo at 1000; home from 1050 to 1250. EV2 calls after watching."""


def test_what_follows_in_the_list_begins_when_the_task_before_it_was_put_off() -> None:
    run = Run(MADE)
    run.mark(dig_1=100)
    run.order(PutOff("photo", "cloud"), 600)
    now = run.at(600)
    home, call = now.network.index["home/1"], now.network.index["call/1"]
    assert now.projection.times(home) == (600, 800)
    assert now.projection.times(call) == (600, 630)
    assert run.at(700).projection.end_s == 800


def test_the_option_says_what_then_comes() -> None:
    run = Run(MADE)
    run.mark(dig_1=100)
    now = run.at(600)
    option = options(now).options[0]
    assert (option.tasks, option.finish_s, option.wins_s) == (("photo", "watch"), 800, 450)


def test_what_waits_for_it_begins_when_it_is_not_needed_through_any_number_of_such() -> None:
    run = Run(procedure(task("a", [10]), task("b", [10], after=["a"]), task("c", [10], after=["b"], who="EV1")))
    run.order(SetNotNeeded("a/1", "no"), 300)
    run.order(SetNotNeeded("b/1", "no"), 200)
    assert run.at(300).projection.end_s == 310


def test_what_was_under_way_by_record_stays_so() -> None:
    run = Run(MADE)
    run.mark(dig_1=100)
    run.order(RecordStart("home/1"), 400)
    run.order(PutOff("photo", "cloud"), 500)
    assert run.at(500).projection.times(run.at(500).network.index["home/1"]) == (400, 600)


def test_put_back_everything_waits_again() -> None:
    run = Run(MADE)
    run.mark(dig_1=100)
    before = run.at(700).projection
    run.order(PutOff("photo", "cloud"), 600)
    run.order(PutBack("photo", "sun"), 700)
    run.order(PutBack("watch", "sun"), 700)
    assert run.at(700).projection == before
    assert run.state.off_since == {}


def test_the_chance_of_an_option_is_that_of_the_run_in_which_it_was_taken() -> None:
    """Home in 200 s, begun now: it may end by 1300. Taken for begun at 100 it would be over already."""
    run = Run(MADE)
    run.mark(dig_1=100)
    now = run.at(1090)
    off = frozenset(now.network.index[f"{name}/1"] for name in ("photo", "watch"))
    told = team_chance(Draws(now, np.random.default_rng(1), 10_000), off, 1300)
    run.order(PutOff("photo", "cloud"), 1090)
    then = forecast(Draws(run.at(1090), np.random.default_rng(1), 10_000))
    assert then is not None
    assert then.team.chance == told
    assert 5 < told < 95
