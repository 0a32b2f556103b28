"""Without script every page reads, and every order is a plain form that leads back to its page."""

import pytest
from playwright.sync_api import Page, expect

from tests.browser.server import Server
from tests.browser.station import NewStation, Station

pytestmark = pytest.mark.browser


@pytest.fixture
def plain(server: Server, station: NewStation) -> tuple[int, Station]:
    """The Desk of a run where each person has a step that can be done, in a browser without script."""
    run = server.run("relay", "0:12:00")
    for step, at in (("out/1", "0:05"), ("out/2", "0:10")):
        server.mark(run, step, at)
    there = station(script=False)
    there.open(f"/runs/{run}/desk", live=False)
    return run, there


def _told(server: Server, run: int) -> str:
    return str(server.events(run)[-1]["kind"])


def test_every_page_reads_without_script(plain: tuple[int, Station]) -> None:
    run, there = plain
    words = {
        "/": "Start a rehearsal",
        f"/runs/{run}/desk": "Pull the breaker",
        f"/runs/{run}/lead": "Who waits for whom",
        f"/runs/{run}/list/BEN": "Sweep it clean",
        f"/runs/{run}/log": "Done: “Walk to the box”",
        f"/runs/{run}/plan": "Nominal timeline",
        f"/runs/{run}/desk?at=0:04:00": "As it stood at 00:04:00",
    }
    for path, word in words.items():
        expect(there.open(path, live=False).locator("body")).to_contain_text(word)
    assert there.page.evaluate("document.scripts.length") > 0, "the pages do have script; it was not run"


def test_a_run_is_started_marked_undone_and_held_by_plain_forms(server: Server, station: NewStation) -> None:
    there = station(script=False)
    page = there.open("/", live=False)
    card = page.locator(".cards > li", has_text="Relay box swap")
    card.get_by_label("already running for").fill("0:12:00")
    card.get_by_role("button", name="Start a rehearsal").click()
    run = int(page.url.split("/")[-2])
    for person in ("ANA", "BEN"):
        there.band("ANA").locator("[data-at]").fill("0:01")
        there.band("ANA").get_by_role("button", name=f"{person} has acknowledged").click()
        expect(there.band("BEN")).to_contain_text(f"{person} acknowledged 00:01:00")
    for text, at in (("Open the door", "0:05"), ("Walk to the box", "0:10")):
        expect(there.band("ANA").locator(".now .text")).to_have_text(text)
        there.band("ANA").locator("[data-at]").fill(at)
        there.done("ANA").click()
    there.band("CHI").get_by_label("voltage").fill("1.5")
    there.done("CHI").click()
    there.done("CHI").click()
    expect(there.band("CHI")).to_contain_text("Nothing left")
    there.band("CHI").get_by_role("button", name="Undo").click()
    expect(there.band("CHI").locator(".now .text")).to_have_text("Call it dead")
    there.done("CHI").click()
    there.band("ANA").get_by_role("button", name="BEN is go").click()
    there.band("ANA").get_by_role("button", name="CHI is go").click()
    there.done("ANA").click()
    expect(there.band("ANA").locator(".now .text")).to_have_text("Lift the new box in")
    assert server.marked(run) == ["out/1", "out/2", "cut/1", "cut/2", "cut/2", "swap/1"]


def test_a_no_go_and_a_note_are_given_by_plain_forms(server: Server, plain: tuple[int, Station]) -> None:
    run, there = plain
    server.mark(run, "cut/1", voltage=1)
    server.mark(run, "cut/2")
    there.page.reload()
    no_go = there.folded("ANA", "no-go")
    no_go.locator("summary").click()
    no_go.get_by_label("Who").select_option("CHI")
    no_go.get_by_label("No-go because").fill("box is stuck")
    no_go.get_by_role("button", name="Enter the no-go").click()
    expect(there.band("ANA")).to_contain_text("box is stuck")
    last = server.events(run)[-1]
    assert (last["kind"], last["body"]["person"], last["body"]["heard"]) == ("NoGoGiven", "CHI", True)
    there.band("ANA").get_by_label("What lifts the no-go of CHI").fill("oiled")
    there.band("ANA").get_by_role("button", name="CHI is go").click()
    expect(there.band("ANA")).to_contain_text("the no-go is lifted: oiled")
    end = there.page.locator("#desk-end")
    end.get_by_label("Note").fill("cold out here")
    end.get_by_label("about").select_option("BEN")
    end.get_by_role("button", name="Add the note").click()
    assert server.events(run)[-1]["body"] == {"text": "cold out here", "step": None, "person": "BEN"}


def _press_and_return(page: Page, name: str, to: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()
    expect(page).to_have_url(to)


def test_work_is_taken_put_off_and_put_back_by_plain_forms(server: Server, plain: tuple[int, Station]) -> None:
    run, there = plain
    page = there.open(f"/runs/{run}/lead", live=False)
    for name, kind in (("Give to BEN", "WorkTaken"), ("Take back", "WorkGivenBack")):
        _press_and_return(page, name, f"{there.address}/runs/{run}/lead")
        assert _told(server, run) == kind
    page.locator("#each-put-off > summary").click()
    page.locator("#off-sweep").fill("wind")
    _press_and_return(page, "Put off", f"{there.address}/runs/{run}/lead")
    expect(page.locator(".put-off")).to_contain_text("Sweep the step · wind")
    page.locator(".put-off").get_by_label("Put back, because").fill("calm")
    page.locator(".put-off").get_by_role("button", name="Put back").click()
    assert _told(server, run) == "TaskPutBack"


def test_a_refusal_is_a_page_with_its_sentence_and_the_leads_order(server: Server, plain: tuple[int, Station]) -> None:
    run, there = plain
    there.done("ANA").click()
    said = there.page.get_by_role("alert")
    expect(said).to_contain_text("is a hold: no go yet from BEN and CHI")
    said.get_by_role("button", name="Close").click()
    expect(said).to_have_count(0)
    server.order(run, "undo", step="out/2")
    there.page.reload()
    there.done("CHI").click()
    said.get_by_label("The flight lead orders it, because").fill("it was dead before")
    said.get_by_role("button", name="Mark it by the lead's order").click()
    expect(there.band("CHI").locator("[data-undo]")).to_contain_text("Pull the breaker")
    assert server.events(run)[-1]["body"]["ordered_because"] == "it was dead before"


def test_a_step_is_reopened_and_the_run_ended_by_plain_forms(plain: tuple[int, Station]) -> None:
    run, there = plain
    page = there.open(f"/runs/{run}/log", live=False)
    entry = page.locator(".log > li", has_text="Done: “Open the door”")
    entry.get_by_text("Reopen", exact=True).first.click()
    entry.locator("[id^=reopen-]").get_by_label("Because").fill("it swung shut")
    entry.get_by_role("button", name="Reopen").click()
    expect(page.locator(".log > li").first).to_contain_text("Reopened: “Open the door” (out/1). it swung shut")
    there.open(f"/runs/{run}/desk", live=False)
    page.locator("#end-run summary").click()
    page.get_by_label("How it ends").fill("called in")
    page.get_by_role("button", name="End the run for good").click()
    expect(page.locator(".bar")).to_contain_text("The run ended at 00:12:")
    expect(page.locator("form[method=post]")).to_have_count(0)


def test_a_procedure_is_added_and_faults_are_listed_by_plain_forms(station: NewStation) -> None:
    page = station(script=False).open("/", live=False)
    page.locator("#add summary").click()
    page.get_by_label("or its text").fill("procedure: short\ntitle: [5]\n")
    page.get_by_role("button", name="Check and add").click()
    expect(page.get_by_role("alert")).to_contain_text("not loaded")
    expect(page.locator(".faults").first).to_contain_text("line 1, column 1")
