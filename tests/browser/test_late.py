"""Whatever was heard late is entered at its time by keyboard alone, and another station shows it so."""

import pytest
from playwright.sync_api import Page, expect

from tests.browser.server import Server
from tests.browser.station import AT_ONCE_MS, NewStation, Station

pytestmark = pytest.mark.browser


@pytest.fixture
def two(server: Server, station: NewStation) -> tuple[int, Station, Page]:
    """A run ten minutes old: the Desk of one station, the Log of another."""
    run = server.run("rig", "0:10:00")
    here, there = station(), station()
    here.open(f"/runs/{run}/desk")
    return run, here, there.open(f"/runs/{run}/log")


def _late(here: Station, digit: str, said: str) -> None:
    keys = here.page.keyboard
    keys.press("Escape")
    for key in (digit, "t"):
        keys.press(key)
    keys.type(said)
    keys.press("Enter")


def _last(server: Server, run: int) -> tuple[str, int]:
    last = server.events(run)[-1]
    return last["kind"], last["at_s"]


def test_a_go_a_count_a_mark_and_a_confirmation_are_entered_late(
    server: Server, two: tuple[int, Station, Page]
) -> None:
    run, here, log = two
    for digit, said, words, kind, at_s in (
        ("3", "0:02:00", "ANA is go", "GoGiven", 120),
        ("3", "0:03:00", "BEN is go", "GoGiven", 180),
        ("3", "0:05:00", "Done: “Say whether the drum is free”", "StepMarked", 300),
        ("1", "0:01:30", "Done 1 of 8", "ActionsDone", 90),
        ("1", "0:01:40", "Done 2 of 8", "ActionsDone", 100),
    ):
        _late(here, digit, said)
        expect(log.locator(".log")).to_contain_text(words, timeout=AT_ONCE_MS)
        assert _last(server, run) == (kind, at_s)
        here.next_press()
    server.mark(run, "wire/1", "0:06:00", pull=3)
    server.mark(run, "wire/2", "0:07:00")
    expect(here.band("BEN").get_by_role("button", name="CHI confirms")).to_be_visible(timeout=AT_ONCE_MS)
    here.next_press()
    _late(here, "2", "0:08:00")
    expect(log.locator(".log")).to_contain_text("CHI confirms “Check each clamp”", timeout=AT_ONCE_MS)
    assert _last(server, run) == ("StepMarked", 480)


def test_minus_two_minutes_is_enough_and_the_focus_returns_to_the_band_with_an_empty_field(
    server: Server, two: tuple[int, Station, Page]
) -> None:
    run, here, _ = two
    _late(here, "1", "-2m")
    expect(here.band("ANA")).to_contain_text("1 of 8 done, last 00:08:")
    expect(here.band("ANA")).to_be_focused()
    expect(here.band("ANA").locator("[data-at]")).to_have_value("")
    here.next_press()
    here.page.keyboard.press("Enter")
    expect(here.band("ANA")).to_contain_text("2 of 8 done, last 00:10:")
    assert _last(server, run)[0] == "ActionsDone"


@pytest.mark.parametrize(("said", "sentence"), [("2:00:00", "has not come yet"), ("a while ago", "a while ago")])
def test_a_wrong_time_is_refused_and_stays_in_its_field(
    two: tuple[int, Station, Page], said: str, sentence: str
) -> None:
    _, here, _ = two
    _late(here, "1", said)
    expect(here.page.get_by_role("alert")).to_contain_text(sentence)
    expect(here.band("ANA").locator("[data-at]")).to_have_value(said)
    expect(here.band("ANA").locator("[data-at]")).to_be_focused()


def test_what_was_refused_is_typed_over(server: Server, two: tuple[int, Station, Page]) -> None:
    run, here, _ = two
    _late(here, "1", "25:00:00")
    expect(here.page.locator("#notice")).to_contain_text("has not come yet", timeout=AT_ONCE_MS)
    here.next_press()
    _late(here, "1", "0:02:00")
    expect(here.band("ANA")).to_contain_text("1 of 8 done", timeout=AT_ONCE_MS)  # The button says "1 of 8", too.
    assert _last(server, run) == ("ActionsDone", 120)


def test_the_time_of_the_band_goes_with_a_no_go_too(server: Server, two: tuple[int, Station, Page]) -> None:
    run, here, _ = two
    keys = here.page.keyboard
    for key in ("3", "t"):
        keys.press(key)
    keys.type("0:04:00")
    keys.press("Escape")
    keys.press("n")
    keys.type("it scrapes")
    keys.press("Enter")
    expect(here.band("CHI")).to_contain_text("ANA: NO-GO 00:04:00: it scrapes")
    expect(here.band("CHI").locator("[data-at]")).to_have_value("")
    assert _last(server, run) == ("NoGoGiven", 240)


def test_c_corrects_the_last_mark_with_old_and_new_in_the_log(server: Server, two: tuple[int, Station, Page]) -> None:
    run, here, log = two
    server.mark(run, "wire/1", "0:06:00", pull=3)
    expect(here.band("BEN").locator("[data-undo]")).to_contain_text("Measure the pull", timeout=AT_ONCE_MS)
    here.next_press()
    keys = here.page.keyboard
    for key in ("2", "c"):
        keys.press(key)
    keys.type("0:05:10")
    keys.press("Tab")
    keys.press("Control+A")
    keys.type("3.5")
    keys.press("Tab")
    keys.type("read off the sheet")
    keys.press("Enter")
    expect(here.band("BEN").locator("[data-undo]")).to_contain_text("done 00:05:10")
    expect(here.band("BEN")).to_be_focused()
    expect(log.locator(".log")).to_contain_text("time 00:05:10, was 00:06:00", timeout=AT_ONCE_MS)
    expect(log.locator(".log")).to_contain_text("pull 3.5 kN, was pull 3 kN")
    expect(log.locator(".log")).to_contain_text("read off the sheet")


def test_no_letter_typed_into_a_field_of_the_band_is_a_key(two: tuple[int, Station, Page]) -> None:
    _, here, _ = two
    for key in ("3", "n"):
        here.page.keyboard.press(key)
    here.page.keyboard.type("a cannot count, q r o u n t")
    expect(here.band("CHI").get_by_label("No-go because")).to_have_value("a cannot count, q r o u n t")
    expect(here.folded("CHI", "correct")).to_have_count(0)
