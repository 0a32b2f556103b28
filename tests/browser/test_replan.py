"""Replanning in a browser: by plain forms, and beside a board that changes while one types."""

import pytest
from playwright.sync_api import expect

from tests.browser.server import Server
from tests.browser.station import NewStation

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("width", [1440, 390])
@pytest.mark.parametrize("script", [True, False], ids=["script", "plain"])
def test_a_step_is_added_revised_and_put_last_by_forms(
    server: Server, station: NewStation, script: bool, width: int
) -> None:
    run = server.run("relay")
    there = station(script=script, width=width)
    page = there.open(f"/runs/{run}/lead", live=script)
    page.locator("#replan-add > summary").click()
    form = page.locator("#replan-add")
    form.get_by_label("What to do").fill("Look at the latch")
    form.get_by_role("checkbox", name="BEN").check()
    form.get_by_label("Takes").fill("4 min")
    form.get_by_label("Because").fill("it rattles")
    form.get_by_role("button").click()
    expect(page.locator(".replan")).to_contain_text("Added: BEN, Look at the latch (added-1/1)")
    expect(form.get_by_label("What to do")).to_have_value("")
    expect(form.locator("[name=who][value=BEN]")).not_to_be_checked()
    there.next_press()
    page.locator("#replan-takes > summary").click()
    takes = page.locator("#replan-takes")
    takes.get_by_label("This step").select_option("added-1/1")
    takes.get_by_label("Takes in all").fill("9 min")
    takes.get_by_label("Because").fill("stuck")
    takes.get_by_role("button").click()
    expect(page.locator(".replan")).to_contain_text("takes 9m, was 4m")
    there.next_press()
    page.locator("#replan-order > summary").click()
    ben = page.locator(".ordering", has_text="BEN")
    ben.get_by_label("Look at the latch").fill("9")
    ben.get_by_label("Because").fill("sweep first")
    ben.get_by_role("button").click()
    expect(ben.locator("li").nth(1)).to_contain_text("Look at the latch")
    assert [each["kind"] for each in server.events(run)] == [
        "RunStarted",
        "WarningAcknowledged",
        "WarningAcknowledged",
        "StepAdded",
        "TakesRevised",
        "TasksReordered",
    ]
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_what_is_being_written_stays_when_the_board_changes(server: Server, station: NewStation) -> None:
    run = server.run("relay")
    there = station()
    page = there.open(f"/runs/{run}/lead")
    page.locator("#replan-add > summary").click()
    form = page.locator("#replan-add")
    form.get_by_label("What to do").fill("Look at the latch")
    form.get_by_role("checkbox", name="CHI").check()
    server.mark(run, "out/1")
    expect(page.locator(".people")).to_contain_text("Walk to the box")
    server.order(run, "revise", step="out/2", takes="9 min", reason="ice")
    expect(page.locator(".replan")).to_contain_text("takes 9m, plan 5m")
    expect(form.get_by_label("What to do")).to_have_value("Look at the latch")
    expect(form.get_by_role("checkbox", name="CHI")).to_be_checked()
    assert form.evaluate("details => details.open")
