"""What the server refuses of what was kept is put before the person, never dropped; what is not kept at all."""

import pytest
from playwright.sync_api import Route, expect

from tests.browser.cable import Cable
from tests.browser.kept import SENT_MS, card, counts, did, has_cards, is_lost, row, rows, summary, told, until
from tests.browser.server import Server
from tests.browser.station import NewStation, Station

pytestmark = pytest.mark.browser


@pytest.fixture
def cut(server: Server, far: Station, cable: Cable) -> int:
    """A run whose first step is under way, on the Desk of the far station, which has just lost its link."""
    run = server.run("relay", "0:12:00")
    far.open(f"/runs/{run}/desk")
    has_cards(far.page)
    cable.cut()
    is_lost(far.page)
    return run


def _done(there: Station, *designators: str) -> None:
    for designator in designators:
        there.band(designator).locator("button:visible").get_by_text("Done", exact=True).click()
        there.next_press()


def test_what_another_station_did_meanwhile_is_refused_and_shown_and_the_rest_is_sent(
    server: Server, far: Station, cable: Cable, cut: int
) -> None:
    _done(far, "ANA", "ANA", "BEN")
    server.mark(cut, "out/1", "0:06:00")
    before = len(server.events(cut))
    cable.restore()
    counts(far.page, 0, 1)
    assert told(did(server, cut, before)) == [("StepMarked", "out/2"), ("StepMarked", "sweep/1")]
    panel = far.page.locator("#outbox")
    expect(panel).to_be_visible()
    expect(row(far.page, "Open the door")).to_contain_text(
        "REFUSED. “Open the door” (out/1) is already done, at 00:06:00"
    )
    expect(far.band("ANA").locator(".now > .marking .text")).to_have_text("Stop. Is the box free")
    far.page.reload()
    counts(far.page, 0, 1)
    expect(row(far.page, "Open the door")).to_contain_text("is already done")


def test_what_was_refused_is_sent_again_when_what_was_missing_is_there(
    server: Server, far: Station, cable: Cable, cut: int
) -> None:
    """CHI's step waits for ANA and BEN, who marked theirs at another station that was cut off, too."""
    far.band("CHI").get_by_label("voltage").fill("1")
    _done(far, "CHI", "CHI")
    cable.restore()
    counts(far.page, 0, 2)
    expect(row(far.page, "Pull the breaker: Done")).to_contain_text("“Walk to the box” (out/2) is open")
    expect(far.page.locator("#outbox")).not_to_contain_text("order")
    for step in ("out/1", "out/2"):
        server.mark(cut, step, "0:05:00")
    before = len(server.events(cut))
    with far.page.expect_response("**/orders"):  # Its sentence is the one that it had before.
        row(far.page, "Call it dead").get_by_role("button", name="Send again").click()
    expect(row(far.page, "Call it dead")).to_contain_text("“Pull the breaker” (cut/1) is open", timeout=SENT_MS)
    row(far.page, "Pull the breaker: Done").get_by_role("button", name="Send again").click()
    counts(far.page, 0, 1)
    row(far.page, "Call it dead").get_by_role("button", name="Send again").click()
    counts(far.page, 0)
    assert told(did(server, cut, before)) == [("StepMarked", "cut/1"), ("StepMarked", "cut/2")]


def test_what_was_refused_is_dropped_only_when_it_is_said_twice_and_a_note_may_stand_for_it(
    server: Server, far: Station, cable: Cable, cut: int
) -> None:
    _done(far, "ANA")
    server.mark(cut, "out/1", "0:06:00")
    cable.restore()
    counts(far.page, 0, 1)
    refused = row(far.page, "Open the door")
    refused.get_by_role("button", name="Drop it").click()
    refused.get_by_role("button", name="Keep it").click()
    counts(far.page, 0, 1)
    refused.get_by_role("button", name="Drop it").click()
    refused.get_by_label("Note for the log").fill("The Desk was quicker")
    server.order(cut, "note", reason="somebody else writes")
    expect(refused.get_by_label("Note for the log")).to_have_value("The Desk was quicker")
    refused.get_by_role("button", name="Drop it for good").click()
    until(lambda: server.events(cut)[-1]["body"].get("step") == "out/1", far.page)
    counts(far.page, 0)
    note = server.events(cut)[-1]
    assert (note["kind"], note["body"]["step"]) == ("NoteAdded", "out/1")
    assert note["body"]["text"].startswith("Not entered: “ANA · Open the door: Done”")
    assert note["body"]["text"].endswith("The Desk was quicker")


def test_the_last_press_is_taken_back_and_never_was(server: Server, far: Station, cable: Cable, cut: int) -> None:
    _done(far, "ANA", "ANA")
    expect(card(far, "ANA").locator(".text")).to_have_text("Stop. Is the box free")
    card(far, "ANA").get_by_role("button", name="Take it back").click()
    expect(card(far, "ANA").locator(".text")).to_have_text("Walk to the box")
    counts(far.page, 1)
    cable.restore()
    counts(far.page, 0)
    assert server.marked(cut) == ["out/1"]


def test_a_press_that_may_have_arrived_is_not_taken_back(server: Server, station: NewStation) -> None:
    """It was stored and its answer lost; then the link is gone for good."""
    run = server.run("relay", "0:04:00")
    there = station()
    there.server_down = True
    page = there.open(f"/runs/{run}/desk")
    has_cards(page)
    gone: list[str] = []

    def lose(route: Route) -> None:
        if not gone:
            gone.append(route.fetch().text())
        route.abort()

    page.route("**/orders", lose)
    page.route("**/api/me", lambda route: route.abort() if gone else route.continue_())
    there.done("ANA").click()
    counts(page, 1)
    page.keyboard.press("k")
    expect(rows(page)).to_contain_text("it may have arrived already, and counts once")
    expect(page.get_by_role("button", name="Take")).to_have_count(0)
    page.unroute("**/api/me")
    page.unroute("**/orders")
    counts(page, 0)
    assert server.marked(run) == ["out/1"]


def test_what_is_ordered_at_the_moment_is_not_kept_and_says_so(
    server: Server, far: Station, cable: Cable, cut: int
) -> None:
    before = len(server.events(cut))
    end = far.page.locator("#end-run")
    end.locator("summary").click()
    end.get_by_label("How it ends").fill("called in")
    end.get_by_role("button", name="End the run for good").click()
    expect(far.page.get_by_role("alert")).to_contain_text("“End the run for good” needs the server")
    expect(end.get_by_label("How it ends")).to_have_value("called in")
    expect(summary(far.page)).to_be_hidden()
    cable.restore()
    expect(far.page.locator("#link")).to_have_text("● Live", timeout=SENT_MS)
    assert len(server.events(cut)) == before


def test_an_order_that_is_not_kept_brings_back_no_older_press_of_its_form(
    server: Server, far: Station, cable: Cable
) -> None:
    """A note and a putting off share a form; the note was taken long ago."""
    run = server.run("relay", "0:12:00")
    for step in ("out/1", "out/2"):
        server.mark(run, step, "0:05:00")
    far.open(f"/runs/{run}/desk")
    more = far.folded("BEN", "more")
    more.locator("summary").click()
    more.get_by_label("Reason or note").fill("swept in part")
    more.get_by_role("button", name="Add a note").click()
    expect(far.band("BEN")).to_contain_text("swept in part")
    far.next_press()
    cable.cut()
    more.get_by_label("Reason or note").fill("rain")
    more.get_by_role("button", name="Put the task off").click()
    expect(far.page.get_by_role("alert")).to_contain_text("needs")
    expect(summary(far.page)).to_be_hidden()
    expect(more.get_by_label("Reason or note")).to_have_value("rain")


def test_what_has_no_band_is_kept_as_well(server: Server, far: Station, cable: Cable) -> None:
    run = server.run("dive", "0:58:00")
    far.open(f"/runs/{run}/desk")
    before = len(server.events(run))
    cable.cut()
    is_lost(far.page)
    first = far.page.locator("#rounds .rows > li").first
    first.get_by_label("gas").fill("150")
    first.get_by_role("button", name="Good").click()
    expect(first.get_by_label("gas")).to_have_value("")
    end = far.page.locator("#desk-end")
    end.get_by_label("Note").fill("cold")
    end.get_by_role("button", name="Raise a flag").click()
    expect(end.get_by_label("Note")).to_have_value("")
    counts(far.page, 2)
    cable.restore()
    counts(far.page, 0)
    kinds = [each["kind"] for each in did(server, run, before)]
    assert kinds == ["RoundAnswered", "ReadingTaken", "FlagRaised"]


def test_a_station_that_slept_asks_for_the_time_instead_of_making_one_up(
    server: Server, far: Station, cable: Cable, cut: int
) -> None:
    far.page.evaluate("leadline.clockJumped = () => true")
    _done(far, "ANA")
    expect(far.page.get_by_role("alert")).to_contain_text("does not know the time")
    expect(summary(far.page)).to_be_hidden()
    far.band("ANA").get_by_label("Elapsed time of the call").fill("0:05:00")
    _done(far, "ANA")
    counts(far.page, 1)
    cable.restore()
    counts(far.page, 0)
    assert server.events(cut)[-1]["at_s"] == 300


def test_the_same_press_made_twice_in_a_part_that_does_not_move_on_counts_once(
    server: Server, far: Station, cable: Cable
) -> None:
    run = server.run("relay", "0:12:00")
    server.order(run, "poll", text="Go for power?")
    far.open(f"/runs/{run}/desk")
    cable.cut()
    is_lost(far.page)
    button = far.page.locator("#polls").get_by_role("button", name="ANA is go")
    button.click()
    counts(far.page, 1)
    far.next_press()
    button.click()
    expect(far.page.get_by_role("alert")).to_contain_text("kept here already")
    counts(far.page, 1)
    cable.restore()
    counts(far.page, 0)


def test_marks_kept_for_another_run_of_that_number_are_not_entered_into_it(
    own_server: Server, station: NewStation
) -> None:
    """The data folder was exchanged while the station was away."""
    run = own_server.run("relay", "0:12:00")
    there = station(own_server)
    there.server_down = True
    page = there.open(f"/runs/{run}/desk")
    has_cards(page)
    own_server.kill()
    is_lost(page)
    _done(there, "ANA")
    counts(page, 1)
    own_server.forget()
    own_server.start()
    assert own_server.run("relay", "0:20:00") == run
    counts(page, 0, 1)
    expect(row(page, "Open the door")).to_contain_text("another run")
    assert own_server.marked(run) == []


def test_of_an_order_that_is_not_kept_and_whose_answer_was_lost_it_is_not_said_that_nothing_is_done(
    server: Server, station: NewStation
) -> None:
    """It was done. By then the button undoes another mark, so nobody is told to press it again."""
    run = server.run("relay", "0:12:00")
    for step in ("out/1", "out/2"):
        server.mark(run, step, "0:05:00")
    there = station()
    there.server_down = True
    page = there.open(f"/runs/{run}/desk")

    def lose(route: Route) -> None:
        route.fetch()
        route.abort()

    page.route("**/orders", lose)
    there.band("ANA").get_by_role("button", name="Undo “Walk to the box”").click()
    expect(page.get_by_role("alert")).to_contain_text("not known whether it was done")
    expect(page.locator("#notice")).not_to_contain_text("nothing is done")
    expect(page.locator("#notice")).not_to_contain_text("counts once")
    assert server.events(run)[-1]["kind"] == "StepReopened"
