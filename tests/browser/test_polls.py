"""Go and no-go from two stations: an own console and the Desk, by mouse and by keyboard, seen everywhere at once."""

import pytest
from playwright.sync_api import Page, expect

from tests.browser.server import Server
from tests.browser.station import AT_ONCE_MS, NewStation, Station

pytestmark = pytest.mark.browser


def _at_the_hold(server: Server) -> int:
    """A run in which ANA stands at the hold that asks BEN and CHI."""
    run = server.run("relay", "0:20:00")
    server.mark(run, "out/1", "0:05:00")
    server.mark(run, "out/2", "0:10:00")
    server.mark(run, "cut/1", "0:14:00", voltage=1)
    server.mark(run, "cut/2", "0:15:00")
    return run


def _polls(page: Page) -> str:
    return page.locator("#polls").inner_text()


def test_a_no_go_at_a_hold_from_an_own_list_shows_on_desk_and_lead_board_at_once_and_is_lifted_with_a_reason(
    server: Server, station: NewStation
) -> None:
    run = _at_the_hold(server)
    own, team = station(), station()
    page = own.open(f"/runs/{run}/list/BEN")
    desk, lead = team.open(f"/runs/{run}/desk"), team.tab(f"/runs/{run}/lead")
    expect(desk.locator("#polls")).to_contain_text("waits since 00:15:00; asked since then: BEN and CHI")
    asked = page.locator("#list-asks")
    asked.locator("summary", has_text="No-go").click()
    asked.get_by_label("No-go because").fill("the rail is bent")
    asked.get_by_role("button", name="I am no-go").click()
    expect(desk.locator("#polls")).to_contain_text("BEN NO-GO", timeout=AT_ONCE_MS)
    expect(desk.locator("#polls")).to_contain_text("the rail is bent, own console")
    expect(lead.locator(".holds")).to_contain_text("the rail is bent, own console", timeout=AT_ONCE_MS)
    expect(lead.locator(".holds")).to_contain_text("waiting now, since 00:15:00")
    band = team.band("ANA")
    band.get_by_label("What lifts the no-go of BEN").fill("it was a shadow")
    team.next_press()  # the no-go has just changed this band under the hand
    band.get_by_role("button", name="BEN is go").click()
    expect(lead.locator(".holds")).to_contain_text("lifted: it was a shadow", timeout=AT_ONCE_MS)
    expect(lead.locator(".holds")).to_contain_text("heard on the loop")
    expect(asked).to_be_hidden()


def heard_go(team: Station, desk: Page, *people: str) -> None:
    """Ground support enters on the Desk who is go on the loop."""
    for person in people:
        team.next_press()
        desk.locator("#polls").get_by_role("button", name=f"{person} is go").click()
        expect(desk.locator("#polls")).to_contain_text(f"{person}: go", timeout=AT_ONCE_MS)


def test_a_poll_is_called_and_answered_by_keyboard_and_a_no_go_from_an_own_list_shows_at_once(
    server: Server, station: NewStation
) -> None:
    run = server.run("relay", "0:04:00")
    own, team = station(), station()
    page = own.open(f"/runs/{run}/list/BEN")
    desk, lead = team.open(f"/runs/{run}/desk"), team.tab(f"/runs/{run}/lead")
    desk.bring_to_front()
    desk.keyboard.press("q")
    desk.keyboard.type("Go for power?")
    desk.keyboard.press("Enter")
    expect(page.locator("#polls")).to_contain_text("Go for power?", timeout=AT_ONCE_MS)
    for shown in (page, desk, lead):
        expect(shown.locator(".bar .calls")).to_contain_text("waiting for ANA, BEN and CHI", timeout=AT_ONCE_MS)
    page.locator("#polls summary", has_text="No-go").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.type("my hands are cold")
    page.keyboard.press("Enter")
    for shown in (desk, lead):
        expect(shown.locator("#polls")).to_contain_text("BEN: NO-GO", timeout=AT_ONCE_MS)
        expect(shown.locator("#polls")).to_contain_text("my hands are cold, own console")
        expect(shown.locator(".bar .calls")).to_contain_text("BEN is NO-GO")
    heard_go(team, desk, "ANA", "CHI")
    team.next_press()
    desk.get_by_label("What lifts the no-go of BEN").fill("warmed up inside")
    desk.keyboard.press("Enter")
    for shown in (desk, lead):
        expect(shown.locator("#polls")).to_contain_text("Go for power? all are go", timeout=AT_ONCE_MS)
        expect(shown.locator(".bar .calls")).to_be_hidden()
    expect(page.locator("#polls")).to_be_hidden()
    answers = [each["body"] for each in server.events(run) if each["kind"] == "PollAnswered"]
    assert [(each["person"], each["go"], each["heard"]) for each in answers] == [
        ("BEN", False, False),
        ("ANA", True, True),
        ("CHI", True, True),
        ("BEN", True, True),
    ]
    assert answers[-1]["reason"] == "warmed up inside"


def test_a_reason_being_typed_survives_the_answer_of_another_station(server: Server, station: NewStation) -> None:
    run = server.run("relay", "0:04:00")
    server.order(run, "poll", text="Go for power?")
    there = station()
    page = there.open(f"/runs/{run}/desk")
    page.locator("#polls summary", has_text="No-go").click()
    reason = page.locator("#polls").get_by_label("No-go because")
    reason.click()
    reason.press_sequentially("smoke in ")
    server.order(run, "poll-go", poll="poll-1", person="CHI")
    expect(page.locator("#polls")).to_contain_text("CHI: go", timeout=AT_ONCE_MS)
    page.keyboard.type("the hut")
    expect(reason).to_have_value("smoke in the hut")
    expect(reason).to_be_focused()


def test_calling_a_poll_from_the_middle_of_a_field_types_the_letter(server: Server, station: NewStation) -> None:
    run = server.run("relay", "0:04:00")
    there = station()
    page = there.open(f"/runs/{run}/desk")
    page.locator("#run-note").click()
    page.keyboard.type("quiet")
    expect(page.locator("#run-note")).to_have_value("quiet")
    assert page.locator("#call-polls").get_attribute("open") is None
    assert "No poll is open." in _polls(page)


def test_the_search_of_the_log_stays_as_it_is_while_others_mark(server: Server, station: NewStation) -> None:
    run = server.run("relay", "0:04:00")
    server.order(run, "note", reason="the lid sticks")
    there = station()
    page = there.open(f"/runs/{run}/log")
    page.get_by_label("Find").fill("lid")
    page.keyboard.press("Enter")
    page.wait_for_url("**/log?find=lid**")
    page.locator("#link.live").wait_for()
    entries = page.locator(".log > li")
    expect(entries).to_have_count(1)
    server.order(run, "note", reason="fog")
    server.order(run, "note", reason="the LID is off")
    expect(entries).to_have_count(2, timeout=AT_ONCE_MS)
    expect(page.locator("#log")).to_contain_text(f"2 of {len(server.events(run))} entries")
    page.get_by_role("link", name="Show all").click()
    expect(entries).to_have_count(len(server.events(run)))


def test_the_handover_is_reached_by_its_key_and_hands_over_from_the_keyboard(
    server: Server, station: NewStation
) -> None:
    run = server.run("relay", "0:04:00")
    there = station()
    page = there.open(f"/runs/{run}/desk")
    page.keyboard.press("h")
    page.wait_for_url("**/handover")
    page.locator("#link.live").wait_for()
    page.get_by_label("To", exact=True).focus()
    page.keyboard.type("Mats")
    page.keyboard.press("Tab")
    page.keyboard.type("BEN is cold")
    page.keyboard.press("Enter")
    expect(page.locator("#handover")).to_contain_text("Shift handed over to Mats: BEN is cold", timeout=AT_ONCE_MS)
    assert server.events(run)[-1]["kind"] == "ShiftHandedOver"
