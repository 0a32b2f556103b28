"""A value is hinted at while it is typed, told in words when it was called, and waits for who must answer."""

import pytest
from playwright.sync_api import expect

from tests.browser.server import Server
from tests.browser.station import AT_ONCE_MS, NewStation, Station

pytestmark = pytest.mark.browser

AtDesk = tuple[int, Station]


@pytest.fixture
def at_desk(server: Server, station: NewStation) -> AtDesk:
    run = server.run("rig", "0:04:00")
    there = station()
    there.open(f"/runs/{run}/desk")
    return run, there


@pytest.mark.parametrize(
    ("typed", "hint"),
    [
        ("19", "OUT OF TOLERANCE: above 4"),
        ("1,9", "OUT OF TOLERANCE: below 2"),
        ("three", "Not a number"),
        ("1e1", "Not a number"),
        ("3,5", ""),
        ("", ""),
    ],
)
def test_a_hint_stands_beside_the_field_while_it_is_typed(at_desk: AtDesk, typed: str, hint: str) -> None:
    there = at_desk[1]
    field = there.band("BEN").get_by_label("pull")
    field.fill("99")
    field.fill(typed)
    expect(there.band("BEN").locator("[role=status]").first).to_have_text(hint)


def test_a_hint_survives_a_change_of_the_band(server: Server, at_desk: AtDesk) -> None:
    run, there = at_desk
    there.band("BEN").get_by_label("pull").fill("19")
    server.order(run, "start", step="wire/1")
    expect(there.band("BEN")).to_contain_text("started 00:04", timeout=AT_ONCE_MS)
    expect(there.band("BEN").locator("[role=status]").first).to_have_text("OUT OF TOLERANCE: above 4")
    expect(there.band("BEN").get_by_label("pull")).to_have_value("19")


def test_a_value_out_of_tolerance_waits_for_the_lead_and_another_station_sees_why(
    server: Server, at_desk: AtDesk, station: NewStation
) -> None:
    run, there = at_desk
    other = station()
    other.open(f"/runs/{run}/desk")
    there.page.keyboard.press("2")
    there.page.keyboard.press("v")
    there.page.keyboard.type("19")
    there.page.keyboard.press("Enter")
    for each in (there, other):
        expect(each.band("BEN")).to_contain_text("pull 19 kN is OUT OF TOLERANCE (2 to 4).", timeout=AT_ONCE_MS)
        expect(each.band("BEN")).to_contain_text("Waits for the lead's acceptance.")
        expect(each.band("BEN").get_by_label("pull")).to_have_value("19")
    assert server.marked(run) == []
    fold = there.folded("BEN", "accept")
    fold.locator("summary").click()
    fold.get_by_label("Because").fill("gauge reads high")
    there.next_press()
    fold.get_by_role("button", name="Enter the lead's acceptance").click()
    expect(other.band("BEN").locator(".now .text")).to_have_text("Check each clamp", timeout=AT_ONCE_MS)
    assert server.marked(run) == ["wire/1"]


def test_a_second_person_confirms_on_their_own_list_and_the_desk_follows(
    server: Server, at_desk: AtDesk, station: NewStation
) -> None:
    run, there = at_desk
    server.mark(run, "wire/1", pull=3)
    tablet = station(width=768)
    page = tablet.open(f"/runs/{run}/list/CHI")
    expect(there.band("BEN").locator(".now .text")).to_have_text("Check each clamp", timeout=AT_ONCE_MS)
    there.next_press()
    there.done("BEN").click()
    expect(there.band("BEN")).to_contain_text("Waits until CHI confirms.")
    asked = page.locator("#list-asks")
    expect(asked).to_contain_text("Check each clamp", timeout=AT_ONCE_MS)
    asked.get_by_role("button", name="I confirm").click()
    expect(there.band("BEN").locator(".now .text")).to_contain_text("Lift the plate", timeout=AT_ONCE_MS)
    expect(asked).to_be_hidden()


def test_enter_confirms_at_the_desk(server: Server, at_desk: AtDesk) -> None:
    run, there = at_desk
    server.mark(run, "wire/1", pull=3)
    server.mark(run, "wire/2")
    expect(there.band("BEN").get_by_role("button", name="CHI confirms")).to_be_visible(timeout=AT_ONCE_MS)
    there.next_press()
    there.page.keyboard.press("2")
    there.page.keyboard.press("Enter")
    expect(there.band("BEN").locator(".now .text")).to_contain_text("Lift the plate")
    assert server.marked(run) == ["wire/1", "wire/2"]
