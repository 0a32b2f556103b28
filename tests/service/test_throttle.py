"""How often somebody may try to sign in: each claim about the buckets, with a clock that is set by hand."""

import pytest

from app.service.throttle import ACCOUNT, DEVICE, MOST_KNOWN, STATION, Throttle

STRANGERS = STATION.tries - DEVICE.tries
"""Tries at once of a station whose browser is not known."""


class Clock:
    now = 0.0

    def __call__(self) -> float:
        return self.now


def used_up(throttle: Throttle, tries: int, *of: str | None) -> int:
    """How many of so many tries at once were let through."""
    station, account, device = of
    return sum(throttle.take(str(station), str(account), device).wait_s == 0 for _ in range(tries))


def test_a_station_has_its_tries_at_once_and_then_one_by_one() -> None:
    clock = Clock()
    throttle = Throttle(clock)
    assert used_up(throttle, 1_000, "a", "mara", None) == STRANGERS
    assert throttle.take("a", "mara", None).wait_s == STATION.each_s
    clock.now += STATION.each_s
    assert used_up(throttle, 5, "a", "mara", None) == 1
    clock.now += 10 * STATION.tries * STATION.each_s
    assert used_up(throttle, 100, "a", "mara", None) == STRANGERS, "a bucket never holds more than at first"


MIXED = {"the known browser first": "d" * 30 + "-" * 30, "the known browser last": "-" * 30 + "d" * 30,
         "by turns": "d-" * 30, "a few, then the other": "dd" + "-" * 30 + "d" * 30}  # fmt: skip


@pytest.mark.parametrize("order", MIXED.values(), ids=MIXED)
def test_a_station_has_ten_tries_at_an_account_with_a_known_browser_and_without(order: str) -> None:
    clock = Clock()
    throttle = Throttle(clock)
    assert sum(used_up(throttle, 1, "a", "mara", "mara at a" if sign == "d" else None) for sign in order) == 10
    # And from then on one every 6 s, not one of each kind.
    found = 0
    for _ in range(600):
        clock.now += 1
        found += used_up(throttle, 1, "a", "mara", "mara at a") + used_up(throttle, 1, "a", "mara", None)
    assert found == 100


def test_one_station_alone_never_uses_up_an_account() -> None:
    """It guesses for an hour as quickly as it may; at each moment somebody else could try."""
    clock = Clock()
    throttle = Throttle(clock)
    for _ in range(3_600):
        used_up(throttle, 3, "guesser", "mara", None)
        clock.now += 1
        taken = throttle.take("right", "mara", None)
        assert taken.wait_s == 0
        throttle.give_back(taken)


def test_a_known_browser_gets_in_while_others_guess_at_its_own_address() -> None:
    """Strangers at her account and another's, and somebody whose own browser is known there too."""
    clock = Clock()
    throttle = Throttle(clock)
    for _ in range(3_600):
        used_up(throttle, 3, "a", "mara", None)
        used_up(throttle, 3, "a", "lena", None)
        used_up(throttle, 3, "a", "mallory", "mallory at a")
        clock.now += 1
        taken = throttle.take("a", "mara", "mara at a")
        assert taken.wait_s == 0
        throttle.give_back(taken)


def test_a_known_browser_that_gets_in_gives_the_guesser_no_try() -> None:
    clock = Clock()
    throttle = Throttle(clock)
    used_up(throttle, 30, "a", "mara", None)
    used_up(throttle, 30, "a", "mallory", "mallory at a")
    for _ in range(50):
        throttle.give_back(throttle.take("a", "mara", "mara at a"))
    assert used_up(throttle, 30, "a", "mara", None) == 0
    assert used_up(throttle, 30, "a", "mallory", "mallory at a") == 0


def test_many_stations_use_up_an_account_but_not_its_known_browsers_nor_other_accounts() -> None:
    throttle = Throttle(Clock())
    assert sum(used_up(throttle, 20, f"station {n}", "mara", None) for n in range(6)) == ACCOUNT.tries
    assert [used_up(throttle, 20, f"station {n}", "mara", None) for n in range(6, 9)] == [1] * 3, "a first try of each"
    assert used_up(throttle, 50, "station 1", "mara", "device") == DEVICE.tries
    assert throttle.take("fresh", "lena", None).wait_s == 0


@pytest.mark.parametrize("device", [None, "mara at a"])
def test_only_wrong_tries_count(device: str | None) -> None:
    throttle = Throttle(Clock())
    for _ in range(500):
        taken = throttle.take("a", "mara", device)
        assert taken.wait_s == 0
        throttle.give_back(taken)


def test_it_forgets_rather_than_grow() -> None:
    throttle = Throttle(Clock())
    taken = throttle.take("station", "name", "device")
    for n in range(3 * MOST_KNOWN):
        throttle.take(f"station {n}", f"name {n}", f"device {n}")
    assert all(len(kind) == MOST_KNOWN for kind in throttle._buckets.values())
    throttle.give_back(taken)
    assert all(len(kind) == MOST_KNOWN for kind in throttle._buckets.values())


def test_whoever_is_told_to_wait_makes_the_throttle_remember_nothing_of_other_names() -> None:
    """Else made-up names would push out what is known of real ones."""
    throttle = Throttle(Clock())
    used_up(throttle, 50, "guesser", "mara", None)
    for n in range(100):
        assert throttle.take("guesser", f"name {n}", None).wait_s > 0
    assert set(throttle._buckets[ACCOUNT]) == {"mara"}
