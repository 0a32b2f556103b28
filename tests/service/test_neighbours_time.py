"""Time at several servers of one PostgreSQL database, and the simulated people that go by it."""

from datetime import timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from app.core.commands_rehearsal import SetPlayers
from app.core.events import ClockStepped
from app.service.pace import MOST_SLEWED, Pace
from app.service.players import Players
from app.service.runs import Service
from app.store import journal
from tests.service.making import SetClock, sender, small_run, store
from tests.service.two_servers import One, server

HOUR = timedelta(hours=1)


def _as_stored(one: One, run: int) -> bool:
    """Whether its memory is what the database has."""
    return one.service.run(run).log == one.store.read(lambda conn: journal.read(conn, run))


def test_elapsed_is_the_same_at_two_servers_whose_wall_clocks_are_an_hour_apart(
    tmp_path: Path, postgres_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    from app.store.clock import wall_clock

    with server(tmp_path / "here", postgres_url) as here:
        run = small_run(here.service)
        for place in ("app.store.clock", "app.store.postgres_store"):
            monkeypatch.setattr(f"{place}.wall_clock", lambda: wall_clock() + HOUR)
        with server(tmp_path / "there", postgres_url) as there:
            mine, other = here.service.run(run).clock, there.service.run(run).clock
            assert other.elapsed_s() == pytest.approx(mine.elapsed_s(), abs=0.02)
            assert there.service.watch_clock() is None


@pytest.mark.parametrize("step", [HOUR, -HOUR])
def test_a_step_of_the_database_s_clock_is_logged_once_whichever_server_finds_it_first(
    tmp_path: Path, postgres_url: str, clock: SetClock, step: timedelta, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second one measures the database's clock every 10 s, so it may hear of the step before it finds it."""
    behind = SetClock()
    with (
        server(tmp_path / "here", postgres_url, clock.server()) as here,
        server(tmp_path / "there", postgres_url, behind.server()) as there,
    ):
        monkeypatch.setattr(there.store, "look_at_clock", lambda: setattr(behind, "step", clock.step))
        run = small_run(here.service)
        there.service.run(run)
        clock.at_s = behind.at_s = 100
        clock.step = step
        assert here.service.watch_clock() == step / timedelta(milliseconds=1)
        there.service.catch_up(run)
        there.service.watch_clock()
        here.service.catch_up(run)
        here.service.watch_clock()
        stepped = [each for each in here.service.run(run).log if isinstance(each.event, ClockStepped)]
        assert len(stepped) == 1
        assert _as_stored(there, run)
        elapsed_s = [one.service.run(run).clock.elapsed_s() for one in (here, there)]
        assert elapsed_s == pytest.approx([100, 100], abs=0.05)


@pytest.mark.parametrize("ppm", [80, -80])
def test_a_steady_clock_that_goes_wrong_by_a_little_keeps_pace_over_a_shift_and_never_goes_back(ppm: int) -> None:
    """80 PPM is what a cheap quartz may be off by (common practice, no source): 2.3 s in eight hours."""
    true_s = 0.0
    pace = Pace(lambda: true_s * (1 + ppm / 1e6))
    shown_s = []
    for second in range(8 * 3600):
        true_s = second
        shown_s.append(pace.read())
        pace.follow(true_s - pace.read())
    assert max(abs(shown - second) for second, shown in enumerate(shown_s)) < 0.005
    gains = [later - sooner for sooner, later in pairwise(shown_s)]
    assert min(gains) > 1 - 2 * MOST_SLEWED
    assert max(gains) < 1 + 2 * MOST_SLEWED


# Simulated people


def test_one_server_plays_and_when_it_is_gone_the_other_goes_on_and_nothing_is_done_twice(
    tmp_path: Path, postgres_url: str, clock: SetClock
) -> None:
    """The second has heard nothing of what the first one did last."""
    with server(tmp_path / "there", postgres_url, clock.server()) as there:
        with server(tmp_path / "here", postgres_url, clock.server()) as here:
            run = small_run(here.service)
            here.service.order(run, SetPlayers(("EV1", "EV2"), 7), sender()).result()
            players, others = Players(here.service), Players(there.service)
            there.service.run(run)
            for _ in range(35):
                clock.at_s += 60
                players.play()
                others.play()
            played = here.service.run(run).state.seq
            assert played > 4
            assert there.service.run(run).state.seq == 2, "it was not its turn"
        for _ in range(20):
            clock.at_s += 60
            others.play()
        log = there.service.run(run).log
        assert len(log) > played
        assert _as_stored(there, run)
    with store(tmp_path / "alone") as opened:
        clock.at_s = 0
        alone = Service(opened, clock.server())
        small_run(alone)
        alone.order(1, SetPlayers(("EV1", "EV2"), 7), sender()).result()
        player = Players(alone)
        for _ in range(55):
            clock.at_s += 60
            player.play()
        expected = [(each.at_s, each.by, each.event) for each in alone.run(1).log[1:]]
        assert [(each.at_s, each.by, each.event) for each in log[1:]] == expected
