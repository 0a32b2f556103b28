"""The help fits every width in both themes and on paper, and “What is this?” shows a word without pressing anything."""

import pytest
from playwright.sync_api import expect

from tests.browser.server import Server
from tests.browser.station import NewStation

pytestmark = pytest.mark.browser


def test_the_help_is_read_by_keyboard_alone_and_printed_without_what_only_leads_on(
    demo: Server, station: NewStation
) -> None:
    shown = station(demo).open("/help/flight-lead", live=False)
    link = shown.get_by_role("navigation", name="On this page").get_by_role("link", name="Every number")
    for _ in range(40):
        shown.keyboard.press("Tab")
        if link.evaluate("each => each === document.activeElement"):
            break
    shown.keyboard.press("Enter")
    expect(shown.locator("#numbers > h3")).to_be_in_viewport()
    over = shown.locator("#numbers > h3").evaluate(
        "each => document.querySelector('.bar').getBoundingClientRect().bottom - each.getBoundingClientRect().top"
    )
    assert over <= 0, "the bar lies over the heading"
    shown.emulate_media(media="print")
    expect(shown.locator(".help-contents")).to_be_hidden()
    expect(shown.locator("#number-chance .worked")).to_be_visible()


def test_what_is_pointed_at_is_explained_beside_the_page_and_nothing_is_pressed(
    server: Server, station: NewStation
) -> None:
    run = server.run("relay", "0:04:00")
    there = station()
    page = there.open(f"/runs/{run}/desk")
    before = len(server.ask(f"/runs/{run}/events"))
    button = there.band("ANA").locator("[data-main]")
    page.get_by_role("button", name="What is this?").click()
    with page.expect_popup() as opened:
        button.click()
    expect(opened.value).to_have_url(f"{server.address}/help/ground-support#desk-done")
    expect(page.get_by_role("button", name="What is this?")).to_have_attribute("aria-pressed", "false")
    assert len(server.ask(f"/runs/{run}/events")) == before
    opened.value.close()
    button.click()
    expect(there.band("ANA").locator(".now .text")).to_have_text("Walk to the box")
    assert len(server.ask(f"/runs/{run}/events")) == before + 1


def test_by_keyboard_a_word_is_chosen_with_enter_and_escape_leaves_the_page_as_it_was(
    server: Server, station: NewStation
) -> None:
    run = server.run("relay", "0:04:00")
    there = station()
    page = there.open(f"/runs/{run}/desk")
    before = len(server.ask(f"/runs/{run}/events"))
    ask = page.get_by_role("button", name="What is this?")
    ask.press("Enter")
    waits = page.get_by_role("button", name="Point at it, or Esc")
    expect(waits).to_have_attribute("aria-pressed", "true")
    page.keyboard.press("Escape")
    expect(ask).to_have_attribute("aria-pressed", "false")
    ask.press("Enter")
    there.band("ANA").locator("[data-main]").focus()
    with page.expect_popup() as opened:
        page.keyboard.press("Space")
    expect(opened.value).to_have_url(f"{server.address}/help/ground-support#desk-done")
    assert len(server.ask(f"/runs/{run}/events")) == before
