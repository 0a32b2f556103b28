"""Home says what to do next: by the state of things, and by what whoever looks may do."""

import re
from pathlib import Path

from app.web.next_step import next_step
from app.web.pages_context import Contents, FaultRow, FaultyFile, RunRow
from app.web.views.figures import Lead
from tests.service.making import SMALL
from tests.web.accounts import with_people
from tests.web.site import Site, words

FAULTY = SMALL.replace(b"5 min", b"5", 1)


def band(page: str) -> str:
    """The band of the page with its links."""
    found = re.search(r'<section id="home-next".*?</section>', page, re.S)
    assert found is not None
    return found[0]


def test_with_nothing_loaded_it_leads_to_a_file(site: Site) -> None:
    said = band(site.page("/"))
    assert "No procedure is loaded. Add a file here" in words(said)
    assert 'href="#add"' in said
    assert "Add people" not in said


def test_a_file_with_faults_is_shown_with_its_line_and_the_place_in_it(site: Site) -> None:
    answer = site.post("/procedures", data={"text": FAULTY.decode()})
    assert answer.status_code == 422
    shown = re.search(r'<code class="shown">(.*?)</code>', answer.text)
    assert shown is not None
    assert "<mark>5</mark>" in shown[1]
    assert "takes:" in words(shown[1])
    assert "does not say its unit" in words(answer.text)


def test_with_a_procedure_and_no_run_it_leads_to_a_rehearsal_and_says_once_that_people_can_be_added(site: Site) -> None:
    revision = site.load()
    said = band(site.page("/"))
    assert "start a rehearsal of it" in words(said)
    assert f'href="/procedures/{revision}"' in said
    assert said.count("/people") == 1


def test_with_a_run_going_on_it_leads_to_its_desk_and_to_nothing_else_that_is_new(site: Site) -> None:
    run = site.start()
    said = band(site.page("/"))
    assert f"Rehearsal {run} is under way" in words(said)
    assert said.index(f'href="/runs/{run}/desk"') < said.index(f'href="/runs/{run}/lead"')
    assert "/people" not in said
    site.start()
    assert "2 runs are under way. The newest: Rehearsal 2" in words(band(site.page("/")))


def test_when_the_run_has_ended_it_leads_to_the_debrief(site: Site) -> None:
    run = site.start()
    assert site.order(run, "end", reason="seen enough").status_code == 303
    said = band(site.page("/"))
    assert f"Rehearsal {run} has ended" in words(said)
    assert f'href="/runs/{run}/debrief"' in said
    assert "Start another" in said


def test_the_band_follows_a_run_that_starts_while_the_page_is_open(site: Site) -> None:
    site.load()
    had = re.findall(r'name="have" value="([^"]*)"', site.page("/"))
    site.start()
    answer = site.get("/", params={"have": had}, headers={"HX-Request": "true"})
    assert "Rehearsal 1 is under way" in words(answer.text)


def test_it_sends_nobody_where_they_may_not_go(site: Site) -> None:
    site.load()
    people = with_people(site)
    for right in ("watch", "mark"):
        said = band(people[right].get("/").text)
        assert "Whoever may lead starts one" in words(said)
        assert "#home-procedures" not in said
        assert "/people" not in said
    assert "start a rehearsal" in words(band(people["lead"].get("/").text))
    revision = site.shell.service.shelf.revisions()[0].hash
    started = people["lead"].post("/runs", data={"revision": revision, "kind": "rehearsal"})
    run = int(started.headers["location"].split("/")[2])
    watching = band(people["watch"].get("/").text)
    assert watching.index(f'href="/runs/{run}/lead"') < watching.index(f'href="/runs/{run}/desk"')


def test_a_file_that_was_refused_comes_before_anything_else_that_is_missing() -> None:
    faulty = (FaultyFile("first.yaml", (FaultRow("line 3, column 1", "what", "remedy", False),)),)
    alone = Contents((), {}, (), faulty)
    assert next_step(alone, "lead", True).said.startswith("first.yaml was not loaded. Mend what is said of it")
    assert [way.to for way in next_step(alone, "lead", True).ways] == ["#not-loaded", "#add"]
    assert [way.to for way in next_step(alone, "watch", False).ways] == ["#not-loaded"]
    run = RunRow(4, "Mast", "live", "2031-05-04 07:00", "", "under way", Lead("1m ahead", "ahead"))
    going = Contents((run,), {}, (), faulty)
    assert next_step(going, "mark", False).said == "Live run 4 is under way: Mast."


def test_a_refused_file_is_not_passed_over_for_an_older_revision_of_it(site: Site, tmp_path: Path) -> None:
    """Who starts a rehearsal then would start the old one."""
    site.load()
    (tmp_path / "files").mkdir()
    (tmp_path / "files" / "small.yaml").write_bytes(FAULTY)
    site.shell.service.shelf.load_folder(tmp_path / "files")
    said = band(site.page("/"))
    assert "small.yaml was not loaded. Mend what is said of it" in words(said)
    assert "start a rehearsal" not in words(said)
    run = site.start()
    assert site.order(run, "end", reason="seen enough").status_code == 303
    assert "small.yaml was not loaded." in words(band(site.page("/")))
