"""Goes and no-goes without a server: the last word of each person is what is kept, shown and sent."""

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.cable import Cable
from tests.browser.kept import SENT_MS, card, counts, did, has_cards, is_lost
from tests.browser.server import Server
from tests.browser.station import Station

pytestmark = pytest.mark.browser

ANSWERS = ("GoGiven", "NoGoGiven", "PollAnswered")


def _at_hold(server: Server, far: Station, page: str = "desk") -> int:
    """A run that stands at the hold of the box's change, which BEN and CHI have to be go for."""
    run = server.run("relay", "1:00:00")
    for step, at in (("out/1", "0:05:00"), ("out/2", "0:10:00")):
        server.mark(run, step, at)
    server.mark(run, "cut/1", "0:14:00", voltage=1)
    server.mark(run, "cut/2", "0:15:00")
    far.open(f"/runs/{run}/{page}")
    has_cards(far.page)
    return run


def _no_go(far: Station, band: Locator, reason: str, who: str = "BEN") -> None:
    fold = band.locator("details:visible").filter(has=far.page.locator("summary[data-no-go]"))
    if fold.get_attribute("open") is None:  # What was not taken left it open.
        fold.locator("summary").click()
    if fold.locator("select").count():
        fold.locator("select").select_option(who)
    fold.get_by_label("No-go because").fill(reason)
    fold.locator("button.grave").click()
    far.next_press()


def _lift(far: Station, band: Locator, reason: str, who: str = "BEN") -> None:
    form = band.locator(f'form[data-lift="{who}"]:visible')
    form.get_by_label("What lifts the no-go").fill(reason)
    form.get_by_role("button").click()
    far.next_press()


def _answers(server: Server, run: int, since: int) -> list[tuple[str, str, str]]:
    """Kind, person and words of each answer, in order."""
    told = [each for each in did(server, run, since) if each["kind"] in ANSWERS]
    return [(each["kind"], each["body"]["person"], _words(each["body"])) for each in told]


def _words(body: dict[str, str | None]) -> str:
    return body.get("reason") or body.get("lifted_because") or ""


def _press(far: Station, designator: str, name: str) -> None:
    far.band(designator).locator("button:visible").get_by_text(name, exact=True).click()
    far.next_press()


def test_a_no_go_with_the_words_of_an_earlier_one_is_kept_and_the_hold_stands(
    server: Server, far: Station, cable: Cable
) -> None:
    """The last word on the loop is NO-GO; that the same was said before a go takes nothing from it."""
    run = _at_hold(server, far)
    server.order(run, "no-go", step="swap/1", person="BEN", reason="a leak")
    server.order(run, "go", step="swap/1", person="CHI")
    expect(far.band("ANA").locator("form.lift")).to_be_visible()
    has_cards(far.page)
    before = len(server.events(run))
    cable.cut()
    is_lost(far.page)
    band = far.band("ANA")
    form = band.locator("form.lift:visible")
    form.get_by_label("What lifts the no-go").fill("dry")
    form.get_by_role("button").click()
    far.next_press()
    _no_go(far, band, "leak")
    _lift(far, band, "wiped dry")
    _no_go(far, band, "leak")
    counts(far.page, 4)
    expect(card(far, "ANA")).to_contain_text("BEN: NO-GO")
    expect(card(far, "ANA").get_by_role("button", name="Done")).to_be_disabled()
    cable.restore()
    counts(far.page, 0)
    assert _answers(server, run, before) == [
        ("GoGiven", "BEN", "dry"),
        ("NoGoGiven", "BEN", "leak"),
        ("GoGiven", "BEN", "wiped dry"),
        ("NoGoGiven", "BEN", "leak"),
    ]


def test_the_same_no_go_entered_twice_without_a_go_between_counts_once(
    server: Server, far: Station, cable: Cable
) -> None:
    run = _at_hold(server, far)
    before = len(server.events(run))
    cable.cut()
    is_lost(far.page)
    for _ in range(2):
        _no_go(far, far.band("ANA"), "a leak")
    expect(far.page.get_by_role("alert")).to_contain_text("kept here already")
    _no_go(far, far.band("ANA"), "a leak", "CHI")  # Of somebody else it is another one.
    counts(far.page, 2)
    cable.restore()
    counts(far.page, 0)
    assert _answers(server, run, before) == [("NoGoGiven", "BEN", "a leak"), ("NoGoGiven", "CHI", "a leak")]


def test_an_answer_pressed_again_while_its_first_press_hangs_is_judged_by_what_was_said_between(
    server: Server, far: Station, cable: Cable
) -> None:
    """Go, no-go, go and no-go, all before the station knows that its link is dead: two forms, one person."""
    run = _at_hold(server, far)
    before = len(server.events(run))
    cable.go_dead()
    band = far.band("ANA")
    _press(far, "ANA", "BEN is go")
    _no_go(far, band, "a leak")
    _press(far, "ANA", "BEN is go")  # Without saying what lifts the no-go: the server has it say so.
    counts(far.page, 3)
    cable.restore()
    counts(far.page, 0, 1)
    expect(far.page.locator("#outbox")).to_contain_text("say what lifts it")
    assert _answers(server, run, before) == [("GoGiven", "BEN", ""), ("NoGoGiven", "BEN", "a leak")]


def test_a_no_go_entered_without_a_server_is_lifted_there_with_a_reason(
    server: Server, far: Station, cable: Cable
) -> None:
    run = _at_hold(server, far)
    before = len(server.events(run))
    cable.cut()
    is_lost(far.page)
    band = far.band("ANA")
    _no_go(far, band, "pressure falls")
    expect(band.locator("[data-barred]")).to_have_text("BEN no-go: the hold stands.")
    expect(band.locator('form[data-lift="CHI"]')).to_be_hidden()
    _lift(far, band, "steady again")
    expect(band.locator("[data-barred]")).to_be_hidden()
    expect(band.locator(".spare")).to_contain_text("BEN: go")
    expect(band.locator(".spare")).to_contain_text("steady again, kept here")
    cable.restore()
    counts(far.page, 0)
    assert _answers(server, run, before) == [("NoGoGiven", "BEN", "pressure falls"), ("GoGiven", "BEN", "steady again")]
    assert [each["body"]["heard"] for each in did(server, run, before)] == [True, True]


def test_at_their_own_console_a_person_lifts_a_no_go_that_was_kept_there(
    server: Server, far: Station, cable: Cable
) -> None:
    """BEN is asked at a step of ANA's, which stands on his list among what others wait for."""
    run = _at_hold(server, far, "list/BEN")
    before = len(server.events(run))
    cable.cut()
    is_lost(far.page)
    asked = far.page.locator("#list-asks .rows > li")
    asked.locator("summary").click()
    asked.get_by_label("No-go because").fill("pressure falls")
    asked.get_by_role("button", name="I am no-go").click()
    far.next_press()
    expect(asked).to_contain_text("BEN: NO-GO")
    expect(asked.get_by_role("button", name="I am go")).to_have_count(1)
    asked.get_by_label("What lifts the no-go of BEN").fill("steady again")
    asked.get_by_role("button", name="I am go").click()
    far.next_press()
    expect(asked).to_contain_text("steady again, kept here")
    cable.restore()
    counts(far.page, 0)
    assert _answers(server, run, before) == [("NoGoGiven", "BEN", "pressure falls"), ("GoGiven", "BEN", "steady again")]
    assert [each["body"]["heard"] for each in did(server, run, before)] == [False, False]


def test_a_go_known_before_the_loss_can_be_followed_by_a_no_go_and_a_lift_and_the_step_is_done(
    server: Server, far: Station, cable: Cable
) -> None:
    run = _at_hold(server, far)
    for person in ("BEN", "CHI"):
        server.order(run, "go", step="swap/1", person=person)
    has_cards(far.page)
    expect(far.done("ANA")).to_be_visible()
    before = len(server.events(run))
    cable.cut()
    is_lost(far.page)
    band = far.band("ANA")
    _no_go(far, band, "pressure falls")
    expect(card(far, "ANA").get_by_role("button", name="Done")).to_be_disabled()
    _lift(far, band, "steady again")
    _press(far, "ANA", "Done")
    counts(far.page, 3)
    cable.restore()
    counts(far.page, 0)
    assert [each["kind"] for each in did(server, run, before)] == ["NoGoGiven", "GoGiven", "StepMarked"]


def _poll(page: Page) -> Locator:
    return page.locator("#polls article.poll")


def test_a_no_go_entered_at_a_poll_without_a_server_is_shown_and_lifted_there_with_a_reason(
    server: Server, far: Station, cable: Cable
) -> None:
    run = server.run("relay", "0:12:00")
    server.order(run, "poll", text="Go for power?")
    far.open(f"/runs/{run}/desk")
    before = len(server.events(run))
    cable.cut()
    is_lost(far.page)
    poll = _poll(far.page)
    fold = poll.locator("details").filter(has_text="No-go because")
    for reason in ("too cold", "too cold"):
        fold.locator("summary").click()
        fold.locator("select").select_option("BEN")
        fold.get_by_label("No-go because").fill(reason)
        fold.locator("button").click()
        far.next_press()
        expect(poll).to_contain_text("BEN: NO-GO")
        expect(poll).to_contain_text("too cold, kept here")
        expect(poll.get_by_role("button", name="BEN is go")).to_have_count(1)  # the one that needs its reason
        poll.locator('form[data-lift="BEN"]').get_by_label("What lifts the no-go").fill("the heater is on")
        poll.locator('form[data-lift="BEN"] button').click()
        far.next_press()
        expect(poll).to_contain_text("BEN: go")
        expect(poll.locator("form[data-lift]")).to_have_count(0)
    counts(far.page, 4)
    cable.restore()
    counts(far.page, 0)
    no_go, go = ("PollAnswered", "BEN", "too cold"), ("PollAnswered", "BEN", "the heater is on")
    assert _answers(server, run, before) == [no_go, go, no_go, go]
    expect(_poll(far.page)).not_to_contain_text("kept here", timeout=SENT_MS)
