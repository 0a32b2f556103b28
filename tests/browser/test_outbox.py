"""A station that loses its server goes on marking: what is pressed is kept, shown, sent in order, and stored once."""

import time

import pytest
from playwright.sync_api import Route, expect

from tests.browser.cable import Cable
from tests.browser.kept import SENT_MS, card, counts, did, elapsed_s, has_cards, is_lost, row, rows, told
from tests.browser.server import Server
from tests.browser.station import NewStation, Station

pytestmark = pytest.mark.browser


@pytest.fixture
def at_desk(server: Server, far: Station) -> int:
    """A run whose first step is under way, on the Desk of the far station, which could go on alone."""
    run = server.run("relay", "0:04:00")
    far.open(f"/runs/{run}/desk")
    has_cards(far.page)
    return run


def test_marks_made_while_the_server_is_dead_are_kept_and_arrive_in_order_once_with_their_times(
    own_server: Server, station: NewStation
) -> None:
    run = own_server.run("relay", "0:30:00")
    there = station(own_server)
    there.server_down = True
    page = there.open(f"/runs/{run}/desk")
    has_cards(page)
    before = len(own_server.events(run))
    own_server.kill()
    is_lost(page)
    pressed = []
    for person, text in (("ANA", "Open the door"), ("ANA", "Walk to the box"), ("BEN", "Sweep it clean")):
        expect(there.band(person).locator(".text:visible")).to_have_text(text)
        pressed.append(elapsed_s(page))
        there.band(person).locator("[data-done]:visible").click()
        there.next_press()
    counts(page, 3)
    expect(rows(page)).to_have_count(3)
    expect(rows(page).nth(1)).to_contain_text("Walk to the box")
    expect(rows(page).nth(1)).to_contain_text("waiting")
    time.sleep(1)
    own_server.start()
    counts(page, 0)
    events = did(own_server, run, before)
    assert told(events) == [("StepMarked", "out/1"), ("StepMarked", "out/2"), ("StepMarked", "sweep/1")]
    for event, at_s in zip(events, pressed, strict=True):
        assert 0 <= event["at_s"] - at_s <= 1
        assert event["logged_s"] >= pressed[-1] + 1
    assert {event["by"] for event in events} == {"Ground support"}
    assert all(event["station"].startswith("station ") for event in events)
    expect(there.band("ANA").locator(".now > .marking .text")).to_have_text("Stop. Is the box free", timeout=SENT_MS)


@pytest.mark.usefixtures("at_desk")
def test_nothing_that_is_kept_looks_done(far: Station, cable: Cable) -> None:
    cable.cut()
    is_lost(far.page)
    far.done("ANA").click()
    kept = card(far, "ANA")
    expect(kept).to_contain_text("Open the door")
    expect(kept).to_contain_text("kept here, not yet acknowledged")
    expect(kept.locator(".text")).to_have_text("Walk to the box")
    expect(far.band("ANA").locator("[data-undo]:visible")).not_to_contain_text("Undo")
    expect(far.page.locator("#link")).to_contain_text("ot connected")
    counts(far.page, 1)
    cable.restore()
    counts(far.page, 0)


@pytest.mark.usefixtures("at_desk")
def test_a_joint_step_moves_both_its_people_on(far: Station, cable: Cable) -> None:
    cable.cut()
    is_lost(far.page)
    far.done("ANA").click()
    expect(card(far, "ANA").locator(".text")).to_have_text("Walk to the box")
    expect(card(far, "BEN").locator(".text")).to_have_text("Walk to the box")
    expect(card(far, "CHI")).to_be_hidden()
    far.next_press()
    card(far, "BEN").locator("[data-done]").click()
    expect(card(far, "ANA").locator(".text")).to_have_text("Stop. Is the box free")
    expect(card(far, "BEN").locator(".text")).to_have_text("Sweep it clean")
    cable.restore()
    counts(far.page, 0)


def test_a_double_click_while_lost_is_one_mark(far: Station, cable: Cable, at_desk: int, server: Server) -> None:
    cable.cut()
    is_lost(far.page)
    place = far.done("ANA").bounding_box()
    assert place is not None
    far.page.mouse.dblclick(place["x"] + place["width"] / 2, place["y"] + place["height"] / 2)
    expect(card(far, "ANA").locator(".text")).to_have_text("Walk to the box")
    card(far, "ANA").locator("[data-done]").click()
    counts(far.page, 1)
    cable.restore()
    counts(far.page, 0)
    assert server.marked(at_desk) == ["out/1"]


def test_a_press_whose_answer_was_lost_is_kept_and_counts_once(server: Server, station: NewStation) -> None:
    run = server.run("relay", "0:04:00")
    there = station()
    there.server_down = True
    page = there.open(f"/runs/{run}/desk")
    lost: list[str] = []

    def lose(route: Route) -> None:
        if lost:
            route.continue_()
            return
        lost.append(route.fetch().text())
        route.abort()

    page.route("**/orders", lose)
    there.done("ANA").click()
    expect(there.band("ANA").locator("[data-undo]:visible")).to_contain_text("Undo “Open the door”", timeout=SENT_MS)
    counts(page, 0)
    assert lost
    assert server.marked(run) == ["out/1"]


def test_a_press_that_hangs_is_kept_after_five_seconds_and_sent_with_the_same_key(
    far: Station, cable: Cable, at_desk: int, server: Server
) -> None:
    key = far.band("ANA").locator(".now > .marking [name=key]").input_value()
    cable.go_dead()
    pressed = elapsed_s(far.page)
    far.done("ANA").click()
    expect(row(far.page, "Open the door")).to_have_count(1, timeout=SENT_MS)
    cable.restore()
    counts(far.page, 0)
    event = server.events(at_desk)[-1]
    assert (event["key"], event["body"]["step"]) == (key, "out/1")
    assert 0 <= event["at_s"] - pressed <= 1
    assert event["logged_s"] > event["at_s"]


def test_two_presses_of_one_form_that_both_hang_are_both_kept_in_their_order(
    far: Station, cable: Cable, server: Server
) -> None:
    """The form has one key for all its buttons: each press needs its own."""
    run = server.run("rig", "0:04:00")
    far.open(f"/runs/{run}/desk")
    before = len(server.events(run))
    cable.go_dead()
    for name in ("ANA is go", "BEN is go"):
        far.band("CHI").get_by_role("button", name=name).click()
        far.next_press()
    expect(rows(far.page)).to_have_count(2, timeout=SENT_MS)
    cable.restore()
    counts(far.page, 0)
    events = did(server, run, before)
    assert [(each["kind"], each["body"]["person"]) for each in events] == [("GoGiven", "ANA"), ("GoGiven", "BEN")]


def test_a_press_made_while_an_earlier_one_hangs_comes_after_it(
    far: Station, cable: Cable, at_desk: int, server: Server
) -> None:
    """CHI's step waits for the one of ANA and BEN. Each is pressed in its own band, the second when the link is known
    to be lost: it is kept at once, the first only when it has hung for long enough."""
    server.mark(at_desk, "out/1")
    expect(far.band("ANA").locator(".now > .marking .text")).to_have_text("Walk to the box")
    far.next_press()
    before = len(server.events(at_desk))
    cable.go_dead()
    far.page.wait_for_timeout(1_500)
    far.done("ANA").click()
    is_lost(far.page)
    far.band("CHI").get_by_label("voltage").fill("1")
    far.done("CHI").click()
    expect(rows(far.page)).to_have_count(2, timeout=SENT_MS)
    expect(rows(far.page).nth(0)).to_contain_text("Walk to the box")
    cable.restore()
    counts(far.page, 0)
    assert told(did(server, at_desk, before)) == [("StepMarked", "out/2"), ("StepMarked", "cut/1")]


def test_what_is_pressed_when_the_link_is_back_does_not_overtake_what_waits(
    far: Station, at_desk: int, server: Server
) -> None:
    hold: list[Route] = []
    let_through: list[bool] = []

    def holding(route: Route) -> None:
        if let_through:
            route.continue_()
        else:
            hold.append(route)

    far.page.route("**/orders", holding)
    far.done("ANA").click()
    expect(row(far.page, "Open the door")).to_have_count(1, timeout=SENT_MS)
    far.next_press()
    card(far, "ANA").locator("[data-done]").click()
    counts(far.page, 2)
    let_through.append(True)
    counts(far.page, 0)
    assert server.marked(at_desk) == ["out/1", "out/2"]


def test_a_press_that_is_long_on_its_way_stands_at_the_time_at_which_it_was_pressed(
    far: Station, at_desk: int, server: Server
) -> None:
    """It arrives before the station has given it up: nothing is kept, and the log has the time of the call."""
    held: list[Route] = []
    far.page.route("**/orders", lambda route: held.append(route))
    pressed = elapsed_s(far.page)
    far.done("ANA").click()
    far.page.wait_for_timeout(3_500)
    held[0].continue_()
    expect(far.band("ANA").locator(".now > .marking .text")).to_have_text("Walk to the box")
    counts(far.page, 0)
    event = server.events(at_desk)[-1]
    assert event["body"]["step"] == "out/1"
    assert pressed <= event["at_s"] <= pressed + 1
    assert event["logged_s"] >= pressed + 3
