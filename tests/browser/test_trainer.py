"""A trainer rules the clock at one station, and a trainee sees it at another; trouble is set by keyboard alone."""

import pytest
from playwright.sync_api import Page, expect

from tests.browser.server import Server
from tests.browser.station import NewStation

pytestmark = pytest.mark.browser


def elapsed_s(page: Page) -> int:
    hours, minutes, seconds = (page.locator("[data-clock]").text_content() or "").split(":")
    return int(hours) * 3600 + int(minutes) * 60 + int(seconds)


def test_a_stopped_clock_stands_at_every_station_and_a_fast_one_runs_fast(server: Server, station: NewStation) -> None:
    run = server.run("relay", "0:10:00")
    trainer = station().open(f"/runs/{run}/trainer")
    desk = station().open(f"/runs/{run}/desk")
    trainer.get_by_role("button", name="Stop the clock").click()
    for page in (trainer, desk):
        expect(page.locator(".pace")).to_have_text("stands")
    desk.wait_for_timeout(2_000)  # The next tick says that it stands, a second later at most.
    stood_s = elapsed_s(desk)
    desk.wait_for_timeout(2_500)
    assert elapsed_s(desk) == elapsed_s(trainer) == stood_s
    trainer.get_by_role("button", name="60×").click()
    expect(desk.locator(".pace")).to_have_text("60×")
    begun_s = elapsed_s(desk)
    desk.wait_for_timeout(3_000)
    assert elapsed_s(desk) - begun_s >= 120, "three seconds at sixty times, a second of them lost at the most"
    trainer.get_by_role("button", name="1×", exact=True).click()
    expect(desk.locator(".pace")).to_have_count(0)


def test_the_clock_is_set_forward_for_all_and_never_back(server: Server, station: NewStation) -> None:
    run = server.run("relay", "0:10:00")
    there, desk = station(), station().open(f"/runs/{run}/desk")
    trainer = there.open(f"/runs/{run}/trainer")
    trainer.get_by_label("Set forward to").fill("1:20:00")
    trainer.get_by_role("button", name="Set the clock").click()
    expect(desk.locator("[data-clock]")).to_contain_text("01:20:")
    expect(trainer.locator("[data-clock]")).to_contain_text("01:20:")
    there.next_press()
    trainer.get_by_label("Set forward to").fill("0:30:00")
    trainer.get_by_role("button", name="Set the clock").click()
    expect(trainer.locator(".notice")).to_contain_text("can't be set back")


def test_a_mark_at_a_station_has_the_elapsed_that_it_showed(server: Server, station: NewStation) -> None:
    run = server.run("relay", "0:10:00")
    there = station()
    desk = there.open(f"/runs/{run}/desk")
    server.order(run, "clock", rate=30)
    expect(desk.locator(".pace")).to_have_text("30×")
    desk.wait_for_timeout(1_500)
    shown_s = elapsed_s(desk)
    desk.keyboard.press("1")
    desk.keyboard.press("Enter")
    expect(there.band("ANA").locator("div.now .text")).to_be_visible()
    desk.wait_for_timeout(1_500)
    marks = [each for each in server.events(run) if each["kind"] == "StepMarked"]
    assert marks
    assert 0 <= marks[0]["at_s"] - shown_s <= 60


def test_trouble_is_set_and_dropped_by_keyboard_alone(server: Server, station: NewStation) -> None:
    run = server.run("relay", "0:10:00")
    page = station().open(f"/runs/{run}/trainer")
    page.locator("#delay-by").focus()
    page.keyboard.type("5 min")
    for text in ("0:40:00", "the hook is bent"):
        page.keyboard.press("Tab")
        page.keyboard.type(text)
    page.keyboard.press("Enter")
    row = page.locator(".trainer-come tbody tr")
    expect(row).to_contain_text("delay of 5m")
    expect(row).to_contain_text("the hook is bent")
    row.get_by_role("button", name="Drop").focus()
    page.keyboard.press("Enter")
    expect(row).to_have_count(0)


def test_the_page_works_without_script(server: Server, station: NewStation) -> None:
    run = server.run("relay", "0:10:00")
    page = station(script=False).open(f"/runs/{run}/trainer", live=False)
    page.get_by_role("button", name="Stop the clock").click()
    expect(page.get_by_role("button", name="Go on")).to_be_visible()
    expect(page.locator(".pace")).to_have_text("stands")
