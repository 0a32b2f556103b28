"""How often somebody may try to sign in: each claim about the buckets, with a clock that is set by hand."""

from app.service.throttle import ACCOUNT, DEVICE, MOST_KNOWN, STATION, Throttle


class Clock:
    now = 0.0

    def __call__(self) -> float:
        return self.now


def used_up(throttle: Throttle, tries: int, *of: str | None) -> int:
    """How many of so many tries at once were let through."""
    station, account, device = of
    return sum(throttle.wait_s(str(station), str(account), device) == 0 for _ in range(tries))


def test_a_station_has_its_tries_at_once_and_then_one_by_one() -> None:
    clock = Clock()
    throttle = Throttle(clock)
    assert used_up(throttle, 1_000, "a", "mara", None) == STATION.tries
    assert throttle.wait_s("a", "mara", None) == STATION.each_s
    clock.now += STATION.each_s
    assert used_up(throttle, 5, "a", "mara", None) == 1
    clock.now += 10 * STATION.tries * STATION.each_s
    assert used_up(throttle, 100, "a", "mara", None) == STATION.tries, "a bucket never holds more than at first"


def test_one_station_alone_never_uses_up_an_account() -> None:
    """It guesses for an hour as quickly as it may; at each moment somebody else could try."""
    clock = Clock()
    throttle = Throttle(clock)
    for _ in range(3_600):
        used_up(throttle, 3, "guesser", "mara", None)
        clock.now += 1
        assert throttle.wait_s("right", "mara", None) == 0
        throttle.succeeded("right", "mara", None)


def test_many_stations_use_up_an_account_but_not_its_known_browsers_nor_other_accounts() -> None:
    throttle = Throttle(Clock())
    assert sum(used_up(throttle, 20, f"station {n}", "mara", None) for n in range(4)) == ACCOUNT.tries
    assert [used_up(throttle, 20, f"station {n}", "mara", None) for n in range(4, 9)] == [1] * 5, "a first try of each"
    assert used_up(throttle, 50, "station 1", "mara", "device") == DEVICE.tries
    assert throttle.wait_s("fresh", "lena", None) == 0


def test_only_wrong_tries_count() -> None:
    throttle = Throttle(Clock())
    for _ in range(500):
        assert throttle.wait_s("a", "mara", None) == 0
        throttle.succeeded("a", "mara", None)


def test_it_forgets_rather_than_grow() -> None:
    throttle = Throttle(Clock())
    for n in range(3 * MOST_KNOWN):
        throttle.wait_s(f"station {n}", f"name {n}", None)
    assert all(len(kind) == MOST_KNOWN for kind in throttle._buckets.values())


def test_whoever_is_told_to_wait_makes_the_throttle_remember_nothing_of_other_names() -> None:
    """Else made-up names would push out what is known of real ones."""
    throttle = Throttle(Clock())
    used_up(throttle, 50, "guesser", "mara", None)
    for n in range(100):
        assert throttle.wait_s("guesser", f"name {n}", None) > 0
    assert set(throttle._buckets[ACCOUNT]) == {"mara"}
