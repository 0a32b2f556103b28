"""Whole steps without a server: warnings, goes, counts, values, a second person; by keys alone."""

import pytest
from playwright.sync_api import expect

from tests.browser.cable import Cable
from tests.browser.kept import card, counts, did, elapsed_s, has_cards, is_lost, rows, told
from tests.browser.server import Server
from tests.browser.station import Station

pytestmark = pytest.mark.browser


def _rig(server: Server, far: Station, page: str = "desk") -> int:
    """A run of the rig in which lifting is next for ANA and BEN, shown at the far station."""
    run = server.run("rig", "1:00:00")
    server.mark(run, "screws/1", "0:10:00", turns=15)
    server.mark(run, "screws/2", "0:12:00")
    server.mark(run, "wire/1", "0:10:00", pull=3)
    server.mark(run, "wire/2", "0:12:00")
    server.order(run, "confirm", step="wire/2", person="CHI", at="0:12:30")
    for person in ("ANA", "BEN"):
        server.order(run, "go", step="watch/1", person=person, at="0:20:00")
    server.mark(run, "watch/1", "0:21:00")
    far.open(f"/runs/{run}/{page}")
    has_cards(far.page)
    return run


def _press(there: Station, designator: str, name: str) -> None:
    there.band(designator).locator("button:visible").get_by_text(name, exact=True).click()
    there.next_press()


def test_a_step_with_everything_in_it_is_done_without_a_server(server: Server, far: Station, cable: Cable) -> None:
    run = _rig(server, far)
    before = len(server.events(run))
    cable.cut()
    is_lost(far.page)
    for name in (
        "ANA has acknowledged",
        "BEN has acknowledged",
        "ANA is go",
        "CHI is go",
        "1 of 4",
        "2 of 4",
        "3 of 4",
    ):
        _press(far, "ANA", name)
    made = card(far, "ANA")
    expect(made.locator(".count-words")).to_contain_text("3 of 4 done")
    _press(far, "ANA", "4 of 4")
    expect(far.page.get_by_role("alert")).to_contain_text("“gap left” needs a number")
    for name, value in (("gap left", "4"), ("gap right", "4,5"), ("load", "7")):
        made.get_by_label(name).fill(value)
    _press(far, "ANA", "4 of 4")
    expect(made.locator(".text")).to_contain_text("Lift the plate")  # It is called, and CHI has not confirmed yet.
    _press(far, "BEN", "CHI confirms")
    expect(made.locator(".text")).to_have_text("Lower the hook")
    _press(far, "ANA", "Done")
    counts(far.page, 10)
    cable.restore()
    counts(far.page, 0)
    kinds = [kind for kind, _ in told(did(server, run, before))]
    assert kinds == [
        *("WarningAcknowledged", "WarningAcknowledged", "GoGiven", "GoGiven"),
        *("ActionsDone", "ActionsDone", "ActionsDone", "ActionsDone", "CompletionCalled"),
        *("StepConfirmed", "StepMarked", "StepMarked"),
    ]
    assert server.marked(run)[-2:] == ["lift/1", "lift/2"]


def test_what_is_out_of_tolerance_waits_for_the_lead_also_without_a_server(
    server: Server, far: Station, cable: Cable
) -> None:
    run = server.run("rig", "0:10:00")
    far.open(f"/runs/{run}/desk")
    has_cards(far.page)
    before = len(server.events(run))
    cable.cut()
    is_lost(far.page)
    far.band("BEN").get_by_label("pull").fill("9")
    _press(far, "BEN", "Done")
    made = card(far, "BEN")
    expect(made.locator(".text")).to_have_text("Measure the pull")
    expect(made).to_contain_text("only when the lead accepts it")
    made.get_by_label("Because").fill("the gauge is known to read high")
    _press(far, "BEN", "Enter the lead's acceptance")
    expect(made.locator(".text")).to_have_text("Check each clamp")
    cable.restore()
    counts(far.page, 0)
    assert [kind for kind, _ in told(did(server, run, before))] == ["CompletionCalled", "ValuesAccepted", "StepMarked"]


def test_a_count_goes_on_from_where_it_was_when_the_link_went(server: Server, far: Station, cable: Cable) -> None:
    """The cards are some seconds old: what was counted since then is not counted again."""
    run = server.run("rig", "0:04:00")
    far.open(f"/runs/{run}/desk")
    has_cards(far.page)
    for number in (1, 2):
        _press(far, "ANA", f"{number} of 8")
        expect(far.band("ANA").locator(".count")).to_contain_text(f"{number} of 8 done")
    cable.cut()
    is_lost(far.page)
    for number in (3, 4, 5):
        _press(far, "ANA", f"{number} of 8")
    expect(card(far, "ANA").locator(".count-words")).to_contain_text("5 of 8 done")
    cable.restore()
    counts(far.page, 0)
    counted = [each["body"]["first"] for each in server.events(run) if each["kind"] == "ActionsDone"]
    assert counted == [1, 2, 3, 4, 5]


def test_counts_called_in_rhythm_while_the_link_dies_are_all_kept_each_with_its_own_time(
    server: Server, far: Station, cable: Cable
) -> None:
    run = server.run("rig", "0:04:00")
    far.open(f"/runs/{run}/desk")
    has_cards(far.page)
    cable.go_dead()
    first = elapsed_s(far.page)
    button = far.band("ANA").locator("[data-done]:visible")
    button.click()
    far.page.wait_for_timeout(1_100)
    second = elapsed_s(far.page)
    button.click()
    expect(rows(far.page)).to_have_count(2, timeout=10_000)
    cable.restore()
    counts(far.page, 0)
    made = [(each["body"]["first"], each["at_s"]) for each in server.events(run) if each["kind"] == "ActionsDone"]
    assert [number for number, _ in made] == [1, 2]
    assert first <= made[0][1] <= first + 1
    assert second <= made[1][1] <= second + 1


def test_a_warning_acknowledged_just_before_the_link_went_is_not_asked_again(
    server: Server, far: Station, cable: Cable
) -> None:
    run = _rig(server, far)
    for name in ("ANA has acknowledged", "BEN has acknowledged"):
        _press(far, "ANA", name)
    expect(far.band("ANA")).to_contain_text("BEN acknowledged")
    cable.cut()
    is_lost(far.page)
    _press(far, "ANA", "ANA is go")
    made = card(far, "ANA")
    expect(made.get_by_role("button", name="BEN has acknowledged")).to_be_disabled()
    expect(made.locator("[data-main]")).to_have_text("CHI is go")
    cable.restore()
    counts(far.page, 0)
    assert [kind for kind, _ in told(server.events(run))].count("WarningAcknowledged") == 2


def test_a_no_go_stands_in_the_way_also_without_a_server(server: Server, far: Station, cable: Cable) -> None:
    run = server.run("rig", "0:04:00")
    far.open(f"/runs/{run}/desk")
    has_cards(far.page)
    before = len(server.events(run))
    cable.cut()
    is_lost(far.page)
    _press(far, "CHI", "ANA is go")
    made = card(far, "CHI")
    far.page.keyboard.press("3")
    far.page.keyboard.press("n")
    expect(made.get_by_label("No-go because")).to_be_focused()
    made.get_by_label("Who").select_option("BEN")
    made.get_by_label("No-go because").fill("a rope is in the way")
    made.get_by_label("No-go because").press("Enter")
    expect(made).to_contain_text("BEN: NO-GO")
    expect(made).to_contain_text("a rope is in the way, kept here")
    expect(made.get_by_role("button", name="Done")).to_be_disabled()
    far.next_press()
    far.page.keyboard.press("Escape")
    far.page.keyboard.press("3")
    far.page.keyboard.press("Enter")
    counts(far.page, 2)
    cable.restore()
    counts(far.page, 0)
    assert [kind for kind, _ in told(did(server, run, before))] == ["GoGiven", "NoGoGiven"]


def test_at_their_own_console_a_person_is_not_held_up_by_what_others_say_at_theirs(
    server: Server, far: Station, cable: Cable
) -> None:
    run = _rig(server, far, "list/ANA")
    cable.cut()
    is_lost(far.page)
    _press(far, "ANA", "I have read the warning")
    server.order(run, "acknowledge", step="lift/1", person="BEN")
    server.order(run, "go", step="lift/1", person="CHI")
    _press(far, "ANA", "I am go")
    for name, value in (("gap left", "4"), ("gap right", "4"), ("load", "7")):
        card(far, "ANA").get_by_label(name).fill(value)
    _press(far, "ANA", "All 4")
    counts(far.page, 3)
    cable.restore()
    counts(far.page, 0)
    assert server.events(run)[-1]["kind"] == "CompletionCalled"


def test_a_person_goes_on_by_keys_alone(server: Server, far: Station, cable: Cable) -> None:
    run = server.run("relay", "0:12:00")
    far.open(f"/runs/{run}/desk")
    has_cards(far.page)
    before = len(server.events(run))
    cable.cut()
    is_lost(far.page)
    keys = far.page.keyboard
    keys.press("1")
    for said, shown in (("0:05:00", "Walk to the box"), ("-1m", "Stop. Is the box free")):
        keys.press("t")
        keys.type(said)
        keys.press("Enter")
        expect(card(far, "ANA").locator(".text")).to_have_text(shown)
        far.next_press()
    keys.press("u")
    expect(card(far, "ANA").locator(".text")).to_have_text("Walk to the box")
    far.next_press()
    pressed = elapsed_s(far.page)
    keys.press("Enter")
    far.next_press()
    keys.press("3")
    keys.press("v")
    keys.type("1,5")
    keys.press("Enter")
    expect(card(far, "CHI").locator(".text")).to_have_text("Call it dead")
    keys.press("k")
    expect(far.page.locator("#outbox")).to_be_visible()
    keys.press("Escape")
    expect(far.page.locator("#outbox")).to_be_hidden()
    counts(far.page, 3)
    cable.restore()
    counts(far.page, 0)
    events = did(server, run, before)
    assert told(events) == [("StepMarked", "out/1"), ("StepMarked", "out/2"), ("StepMarked", "cut/1")]
    assert events[0]["at_s"] == 300
    assert pressed <= events[1]["at_s"] <= pressed + 1
    assert events[2]["body"]["values"] == [["voltage", 1.5]]


def test_enter_presses_nothing_that_is_not_seen(server: Server, far: Station, cable: Cable) -> None:
    """At the end of what is known here the band has no button, and the server's own form stands hidden behind it."""
    run = server.run("relay", "0:30:00")
    for step, at in (("out/1", "0:05"), ("out/2", "0:10")):
        server.mark(run, step, at)
    far.open(f"/runs/{run}/desk")
    has_cards(far.page)
    cable.cut()
    is_lost(far.page)
    far.band("CHI").get_by_label("voltage").fill("1")
    _press(far, "CHI", "Done")
    _press(far, "CHI", "Done")
    expect(card(far, "CHI")).to_contain_text("No further step is known here")
    for key in ("3", "Enter", "a", "n", "m", "c", "v"):
        far.page.keyboard.press(key)
        far.next_press()
    counts(far.page, 2)
    cable.restore()
    counts(far.page, 0)
    assert server.marked(run) == ["out/1", "out/2", "cut/1", "cut/2"]
