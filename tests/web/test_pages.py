"""Every page of a run in every state is there for a plain GET, and what is not there is answered in words."""

from pathlib import Path

import pytest
from jinja2 import Environment, Template
from sqlalchemy import Connection

from app.settings import HOME
from app.store import library
from tests.service.making import BEGUN, SAMPLES
from tests.service.past_runs import MARKS, past_run
from tests.web.site import HX, Site, forms, words

PAGES = ("desk", "lead", "list/EV1", "list/EV2", "log", "handover", "plan")
PAST = ("desk", "lead", "list/EV1")
BARE = b"procedure: bare\ntitle: Bare\ntasks:\n  - {task: a, title: A, steps: [{do: Wait, takes: 0 s}]}\n"


def every_page(site: Site, run: int) -> None:
    for page in PAGES:
        site.page(f"/runs/{run}/{page}")
    for page in PAST:
        site.page(f"/runs/{run}/{page}?at=0:00")
    site.page("/")


def test_every_page_is_there_through_a_whole_run(site: Site) -> None:
    run = site.start()
    every_page(site, run)
    site.clock.at_s = 300
    site.done(run, "rig/1")
    site.order(run, "start", step="rig/2")
    every_page(site, run)
    site.clock.at_s = 900
    site.order(run, "mark", step="rig/2", value__angle="45")
    site.order(run, "take", task="sweep", page="lead")
    every_page(site, run)
    site.clock.at_s = 1_000
    site.order(run, "put-off", task="paint", reason="rain", page="lead")
    site.done(run, "wire/1")
    site.order(run, "no-go", step="wire/2", person="EV1", reason="dark")
    every_page(site, run)
    site.order(run, "go", step="wire/2", person="EV1", reason="lamp brought")
    site.order(run, "go", step="wire/2", person="EV2")
    site.done(run, "wire/2")
    site.order(run, "not-needed", step="sweep/1", reason="clean")
    every_page(site, run)
    site.order(run, "end", reason="all done")
    every_page(site, run)
    assert "all done" in words(site.page(f"/runs/{run}/desk"))


@pytest.mark.parametrize("file", sorted(SAMPLES.glob("*.yaml")), ids=lambda file: file.stem)
def test_every_page_of_a_sample_is_there(site: Site, file: Path) -> None:
    run = site.start(file.read_bytes())
    crew = site.json(f"/api/runs/{run}")["crew"]
    for second in (0, 4_000, 30_000):
        site.clock.at_s = second
        for page in ("desk", "lead", "log", "handover", "plan", *(f"list/{person}" for person in crew)):
            site.page(f"/runs/{run}/{page}")


def test_a_procedure_without_people_and_without_length_has_its_pages(site: Site) -> None:
    run = site.start(BARE)
    for page in ("desk", "lead", "log", "handover", "plan"):
        site.page(f"/runs/{run}/{page}")
    for page in ("", "/briefing", "/lists"):
        site.page(f"/procedures/{site.load(BARE)}{page}")
    site.done(run, "a/1")
    for page in ("desk", "lead", "log", "plan"):
        site.page(f"/runs/{run}/{page}")


@pytest.fixture
def rendered(monkeypatch: pytest.MonkeyPatch) -> set[str]:
    """The names of the templates that were used since."""
    names: set[str] = set()
    compiled = Environment._load_template

    def noted(self: Environment, name: str | Template, *args: object) -> Template:
        names.add(str(name))
        return compiled(self, name, *args)  # type: ignore[arg-type] # passed through as it came

    monkeypatch.setattr(Environment, "_load_template", noted)
    return names


def live_run(site: Site) -> int:
    answer = site.post("/runs", data={"revision": site.load(), "kind": "live"})
    return int(answer.headers["location"].split("/")[2])


def test_every_template_is_rendered_by_these_pages(site: Site, rendered: set[str]) -> None:
    run = site.start()
    every_page(site, run)
    revision = site.load()
    for page in ("", "/briefing", "/lists"):
        site.page(f"/procedures/{revision}{page}")
    for page in (
        "/api/docs",
        "/sign-in",
        "/password",
        "/people",
        "/runs",
        f"/runs/{run}/spare",
        f"/runs/{run}/debrief",
        f"/runs/{run}/trainer",
        f"/runs/{live_run(site)}/trainer",
        f"/compare?run={run}&run={site.start()}",
    ):
        site.page(page)
    site.order(run, "mark", step="wire/1")
    site.order(run, "mark", step="wire/1", hx=True)
    past_run(site.shell.service, site.clock, MARKS[0])
    site.page(f"/procedures/{revision}/durations")
    site.post(f"/procedures/{revision}/durations", data={"step": "rig/1"})
    site.get("/nowhere")
    assert {path.name for path in (HOME / "templates").glob("*.html")} - rendered == set()


@pytest.mark.parametrize(
    "address",
    [
        "/runs/99/desk", "/runs/0/desk", "/runs/-1/desk", f"/runs/{2**70}/desk", "/runs/abc/desk", "/runs/abc",
        "/runs/1/nothing", "/runs/1/", "/runs/1/desk/", "/runs/1/list/NOBODY", "/runs/1/list/", "/runs/1/list/EV1/x",
        "/runs/1/..%2f..%2fetc", "/procedures/nothing", "/procedures/%2e%2e%2fetc", "/procedures/CON",
        "/procedures/" + "a" * 300, "/procedures/%00", "/nowhere", "/static/nothing.js",
        "/static/..%2f..%2fpyproject.toml",
    ],
)  # fmt: skip
def test_what_is_not_there_is_answered_in_words(site: Site, address: str) -> None:
    site.start()
    answer = site.get(address)
    assert answer.status_code == 404
    assert answer.headers["content-type"].startswith("text/html")
    said = words(answer.text)
    assert "Traceback" not in said
    assert "Not Found" in said
    assert "Back to Home" in said


def test_the_bare_address_of_a_run_leads_to_its_desk(site: Site) -> None:
    run = site.start()
    answer = site.get(f"/runs/{run}")
    assert (answer.status_code, answer.headers["location"]) == (303, f"/runs/{run}/desk")


@pytest.mark.parametrize("page", PAST)
def test_a_past_moment_can_only_be_read(site: Site, page: str) -> None:
    run = site.start()
    site.clock.at_s = 300
    site.done(run, "rig/1")
    now, past = site.page(f"/runs/{run}/{page}"), site.page(f"/runs/{run}/{page}?at=0:02:00")
    assert any(form.get("method") == "post" for form in forms(now))
    assert not [form for form in forms(past) if form.get("method") == "post"]
    assert "hx-post" not in past
    assert "data-live" not in past
    assert "As it stood at 00:02:00" in words(past)


def test_a_past_moment_shows_what_had_happened_by_then(site: Site) -> None:
    run = site.start()
    site.clock.at_s = 300
    site.done(run, "rig/1")
    site.clock.at_s = 500
    assert "step 1 of 2" in site.page(f"/runs/{run}/desk?at=0:04:59")
    assert "step 2 of 2" in site.page(f"/runs/{run}/desk?at=0:05:00")
    assert "step 2 of 2" in site.page(f"/runs/{run}/desk?at=-2 min")


@pytest.mark.parametrize(("at", "status"), [
    ("0:05:01", 404), ("99:00", 404), ("-9 min", 404), ("9999999", 404),
    ("x", 422), ("1:60", 422), ("-1", 422), ("\0", 422), ("0x10", 422), ("٣:٠٠", 422), ("9" * 400, 422),
])  # fmt: skip
def test_a_moment_that_is_none_is_answered_in_words(site: Site, at: str, status: int) -> None:
    run = site.start()
    site.clock.at_s = 300
    answer = site.get(f"/runs/{run}/desk", params={"at": at})
    assert answer.status_code == status
    said = words(answer.text)
    assert "not in this run" in said if status == 404 else "not an elapsed time" in said or "unit" in said


def test_the_log_and_the_plan_have_no_past_and_say_now(site: Site) -> None:
    run = site.start()
    for page in ("log", "plan"):
        assert "As it stood" not in words(site.page(f"/runs/{run}/{page}?at=0:00"))


def test_home_shows_the_safety_notice_the_plan_finish_and_the_runs(site: Site) -> None:
    said = words(site.page("/"))
    assert "does not replace the person in charge" in said
    run = site.start()
    said = words(site.page("/"))
    assert "Mast work" in said
    assert "00:27:00" in said
    assert f"rehearsal {run}" in said


def test_htmx_gets_only_the_parts_that_differ(site: Site) -> None:
    run = site.start()
    page = site.page(f"/runs/{run}/desk")
    have = _have(page)
    nothing = site.get(f"/runs/{run}/desk", params={"have": have}, headers=HX).text
    assert "hx-partial" not in nothing
    site.done(run, "rig/1")
    parts = site.get(f"/runs/{run}/desk", params={"have": have}, headers=HX).text
    assert 'hx-target="#band-1"' in parts
    assert "<!doctype" not in parts


def _have(page: str) -> list[str]:
    return [part.partition('value="')[2].partition('"')[0] for part in page.split('name="have"')[1:]]


def test_a_run_whose_procedure_this_reader_refuses_hides_no_other(site: Site) -> None:
    """An older reader took the text; a rule that came later refuses it."""
    run = site.start()
    service = site.shell.service

    def job(conn: Connection) -> int:
        stored, _ = library.put(conn, "procedure: [", "old", "Old one", "old.yaml", BEGUN)
        return library.create_run(conn, stored, "live", BEGUN, BEGUN)

    refused = service.store.write(job).result()
    assert [each["run"] for each in site.json("/api/runs")] == [run]
    home = words(site.page("/"))
    assert "Mast work · rehearsal 1" in home
    assert "old.yaml" in home
    assert site.get(f"/runs/{refused}/desk").status_code == 422
