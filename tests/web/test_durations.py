"""Durations over past runs: the page, the API, and a better revision that is reviewed before it is stored."""

import html
import re
from urllib.parse import quote

import pytest

from app.reading.procedure_reader import read_procedure
from tests.service.making import SMALL
from tests.service.past_runs import MARKS, past_run, past_runs
from tests.service.test_durations import STEP_KEYS
from tests.web.site import Site, forms, words

PAGE = "/procedures/mast/durations"


@pytest.fixture
def runs(site: Site) -> tuple[int, ...]:
    """Two rehearsals and a live run, ended."""
    return past_runs(site.shell.service, site.clock)


def row(page: str, step: str) -> str:
    """What a step's row says."""
    rows = re.findall(r"<tr[^>]*>.*?</tr>", page, re.S)
    return words(next(each for each in rows if f">{step}<" in each))


def ticked(page: str) -> list[str]:
    return re.findall(r'name="step" value="([^"]*)" checked', page)


def review(site: Site, *steps: str, **more: str) -> str:
    answer = site.post(PAGE, data={"step": list(steps), **more})
    assert answer.status_code == 200, words(answer.text)
    return answer.text


def test_before_the_first_run_the_page_says_so_and_asks_for_nothing(site: Site) -> None:
    site.load()
    page = site.page(PAGE)
    assert "There is no run of this procedure yet." in words(page)
    assert forms(page) == []


@pytest.mark.usefixtures("runs")
def test_each_step_has_its_figures_in_words_and_its_reason(site: Site) -> None:
    page = site.page(PAGE)
    said = row(page, "rig/1")
    for figure in ("Open the box EV1", "5m", "3", "6m 20s", "6m 04s to 6m 36s", "1.27", "4m 45s, 5m 50s, 9m"):
        assert figure in said
    assert (
        "3 runs, median 6m 20s: 27 % longer than the likely 5m, 21 % longer than the plan's median of 5m 15s;" in said
    )
    assert "1.27 to likely 1.21 to median" in said
    assert row(page, "paint/1").count("run 3: not marked") == 1
    assert row(page, "sweep/1") == "sweep/1 Sweep it EV2 runs 3, 2, 1: not marked 3m 0 – – – as planned"
    assert "3 of 3 runs asked" in words(page)


@pytest.mark.usefixtures("runs")
def test_the_picture_says_what_the_row_says_and_has_a_dot_for_each_run(site: Site) -> None:
    drawn = re.findall(r'<svg class="took".*?</svg>', site.page(PAGE), re.S)
    assert len(drawn) == 4
    said = "rig/1: planned 5m, median 6m 20s, ten to ninety 6m 04s to 6m 36s, proposed 4m 45s, 5m 50s, 9m"
    assert f'aria-label="{said}"' in html.unescape(drawn[0])
    dots = [float(x) for x in re.findall(r'<circle cx="([0-9.]+)%"', drawn[0])]
    assert [round(x * 400 / dots[-1]) for x in dots] == [360, 380, 400]


def test_runs_are_chosen_by_a_form_whose_address_says_which(site: Site, runs: tuple[int, ...]) -> None:
    assert "1 of 3 runs asked" in words(site.page(f"{PAGE}?kind=live"))
    page = site.page(f"{PAGE}?run={runs[0]}&run={runs[1]}")
    assert "2 of 3 runs asked" in words(page)
    assert set(re.findall(r'name="run" value="(\d+)" checked', page)) == {str(run) for run in runs[:2]}
    carried = next(form for form in forms(page) if form["method"] == "post")
    assert carried["kind"] == "both"
    assert len(re.findall(r'type="hidden" name="run"', page)) == 2


def test_simulated_people_are_left_out_and_the_page_says_of_which_run(site: Site) -> None:
    past_run(site.shell.service, site.clock, MARKS[0], players=("EV1",))
    page = site.page(PAGE)
    assert "Left out here: run 1." in words(page)
    assert "Not counted: what simulated people did in run 1." in words(page)
    assert f'href="/procedures/{site.shell.service.runs()[0].revision}/durations?kind=both&amp;simulated=1"' in page
    assert "1 of 1 runs asked, live runs and rehearsals: run 1. What simulated people did is not counted." in words(
        page
    )
    assert ticked(page) == ["wire/1"]
    again = site.page(f"{PAGE}?simulated=1")
    assert "Left out here" not in words(again)
    assert "Not counted" not in words(again)
    assert "run 1. What simulated people did is counted too." in words(again)
    assert "rig/1" in ticked(again)


@pytest.mark.usefixtures("runs")
def test_what_is_ticked_is_shown_as_a_difference_and_stored_by_the_next_press(site: Site) -> None:
    before = len(site.json("/api/procedures"))
    page = review(site, "rig/1", "rig/2")
    text = words(page)
    assert "Better durations for 2 steps" in text
    assert "Plan finish 00:27:00 becomes 00:28:20" in text
    assert "- - {do: Open the box, takes: 5 min}" in text
    assert "+ - {do: Open the box, takes: [4 min 45 s, 5 min 50 s, 9 min]}" in text
    assert len(site.json("/api/procedures")) == before, "nothing is stored yet"
    (form,) = (each for each in forms(page) if each.get("expect"))
    stored = site.post(form["action"], data={"step": ["rig/1", "rig/2"], "expect": form["expect"]})
    assert stored.status_code == 303
    assert stored.headers["location"] == f"/procedures/{form['expect']}"
    newest = site.json("/api/procedures")[0]
    assert (newest["revision"], newest["source"]) == (form["expect"], "mast.yaml, durations from runs")
    made = read_procedure(site.page(f"/procedures/{form['expect']}/file.yaml")).procedure
    assert made is not None
    assert [step.takes.likely_s for step in made.steps[:3]] == [350, 630, 600]


@pytest.mark.usefixtures("runs")
def test_what_was_reviewed_is_stored_or_nothing(site: Site) -> None:
    """Another run ended meanwhile, so that something else would be proposed: it is shown first."""
    page = review(site, "rig/1")
    (form,) = (each for each in forms(page) if each.get("expect"))
    past_run(site.shell.service, site.clock, {"rig/1": 900})
    answer = site.post(form["action"], data={"step": ["rig/1"], "expect": form["expect"]})
    assert answer.status_code == 409
    assert "nothing was stored" in words(answer.text)
    (again,) = (each for each in forms(answer.text) if each.get("expect"))
    assert again["expect"] != form["expect"]
    assert len(site.json("/api/procedures")) == 1
    assert site.post(again["action"], data={"step": ["rig/1"], "expect": again["expect"]}).status_code == 303


@pytest.mark.usefixtures("runs")
def test_with_nothing_ticked_nothing_is_done(site: Site) -> None:
    for steps, sentence, status in (
        ([], "Tick at least one proposal", 422),
        (["sweep/1"], "the plan stands", 409),
        (["none/1"], "the plan stands", 409),
    ):
        answer = site.post(PAGE, data={"step": steps})
        assert answer.status_code == status
        assert sentence in words(answer.text)
        assert ticked(answer.text), "the page with its proposals"
    assert len(site.json("/api/procedures")) == 1


@pytest.mark.usefixtures("runs")
def test_a_choice_that_can_not_be_read_is_refused(site: Site) -> None:
    for address, status in ((f"{PAGE}?run=9", 422), (f"{PAGE}?run=x", 422), (f"{PAGE}?kind=dry", 422)):
        assert site.get(address).status_code == status, address
    for sent in ({"step": "rig/1", "run": "x"}, {"step": "rig/1", "run": "9"}, {"step": "rig/1", "kind": "dry"}):
        assert site.post(PAGE, data=sent).status_code == 422, sent
    assert site.post(PAGE, data={"step": "a" * 5000}).status_code == 422
    assert site.get("/procedures/none/durations").status_code == 404
    assert site.post("/procedures/none/durations", data={"step": "rig/1"}).status_code == 404


@pytest.mark.usefixtures("runs")
def test_the_api_says_the_same_with_fixed_keys(site: Site) -> None:
    said = site.json("/api/procedures/mast/durations?kind=both")
    assert said.keys() == {"revision", "procedure", "title", "kind", "simulated", "runs", "steps"}
    assert all(each.keys() == STEP_KEYS for each in said["steps"])
    assert [each["run"] for each in said["runs"]] == [3, 2, 1]
    rig = said["steps"][0]
    assert (rig["n"], rig["median_s"], rig["proposed"]) == (
        3,
        380,
        {"optimistic_s": 285, "likely_s": 350, "pessimistic_s": 540},
    )
    live = site.json("/api/procedures/mast/durations?kind=live&run=3")
    assert [each["run"] for each in live["runs"] if each["asked"]] == [3]


@pytest.mark.usefixtures("runs")
def test_the_api_refuses_in_problem_documents(site: Site) -> None:
    for query, status in (("run=9", 422), ("kind=dry", 422), ("run=x", 422)):
        answer = site.get(f"/api/procedures/mast/durations?{query}")
        assert (answer.status_code, answer.headers["content-type"]) == (status, "application/problem+json")
    assert site.get("/api/procedures/none/durations").status_code == 404


def test_the_plan_leads_there(site: Site) -> None:
    revision = site.load()
    assert f'href="/procedures/{revision}/durations"' in site.page(f"/procedures/{revision}")


def test_texts_of_a_file_are_texts_here_too(site: Site) -> None:
    nasty = SMALL.replace(b"Open the box", b'"<b>Open</b> {{7*7}}"').replace(b"Mast work", b"<i>Mast</i>")
    past_run(site.shell.service, site.clock, MARKS[0], text=nasty)
    page = site.page(PAGE) + review(site, "rig/1")
    assert "<b>Open" not in page
    assert "<i>Mast" not in page
    assert page.count("&lt;b&gt;Open&lt;/b&gt; {{7*7}}") >= 2


def test_a_procedure_that_came_as_a_table_is_revised_in_the_text_that_is_kept_of_it(site: Site) -> None:
    site.load()
    site.clock.at_s += 60  # So that it is the last loaded.
    table = site.get("/procedures/mast/file.csv").content.replace(b"Open the box", b"Open the crate")
    loaded = site.shell.service.shelf.load(table, "mast.csv")
    text = site.shell.service.shelf.revision(loaded.hash).text.encode()
    past_run(site.shell.service, site.clock, MARKS[0], text=text)
    page = review(site, "rig/1")
    assert "+ takes: [" in words(page)
    (form,) = (each for each in forms(page) if each.get("expect"))
    assert site.post(form["action"], data={"step": ["rig/1"], "expect": form["expect"]}).status_code == 303
    assert site.json("/api/procedures")[0]["source"].startswith("mast.csv, durations")


def test_an_address_with_odd_signs_is_not_there(site: Site) -> None:
    site.load()
    assert site.get(f"/procedures/{quote('<mast>')}/durations").status_code == 404
