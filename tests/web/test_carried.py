"""The file for the next outing, from the Log page and from the API."""

import re

from app.reading.procedure_reader import read_procedure
from app.settings import HOME
from tests.service.making import SMALL
from tests.web.site import Site, words

SAMPLE = (HOME / "procedures" / "pump-changeout.yaml").read_bytes()


def test_the_log_page_offers_the_file_and_it_is_a_download_that_loads(site: Site) -> None:
    run = site.start(SAMPLE)
    site.done(run, "go-out/1")
    page = site.page(f"/runs/{run}/log")
    (address,) = re.findall(r'href="(/runs/[^"]*carried[^"]*)" download', page)
    answer = site.get(address)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/yaml; charset=utf-8"
    assert answer.headers["content-disposition"] == 'attachment; filename="pump-changeout-carried.yaml"'
    made = read_procedure(answer.content).procedure
    assert made is not None
    assert made.title.endswith(f", carried over from run {run}")
    assert made.tasks[0].steps[0].do == "Carry the tool bags to bay 4"
    assert site.post("/api/procedures", content=answer.content).status_code == 201


def test_of_a_run_that_goes_on_it_says_so_and_of_one_that_ended_when(site: Site) -> None:
    run = site.start()
    assert "# The run had not ended" in site.page(f"/runs/{run}/carried.yaml")
    site.clock.at_s += 90
    assert site.order(run, "end", reason="Storm").status_code == 303
    site.clock.at_s += 90
    text = site.page(f"/runs/{run}/carried.yaml")
    assert text.startswith(f"# Carried over from run {run} of mast, as it ended at 00:01:30, revision ")
    assert "had not ended" not in text


def test_a_past_moment_has_the_file_of_that_moment(site: Site) -> None:
    run = site.start()
    site.clock.at_s += 60
    site.done(run, "rig/1")
    site.clock.at_s += 60
    address = f"/runs/{run}/carried.yaml?at=0:00:30"
    then, now = (read_procedure(site.page(each)).procedure for each in (address, f"/runs/{run}/carried.yaml"))
    assert then is not None
    assert now is not None
    assert len(then.task("rig").steps) == len(now.task("rig").steps) + 1
    assert site.json(f"/api/runs/{run}/carried?at=30")["text"] == site.page(address)


def test_the_api_gives_the_same_text(site: Site) -> None:
    run = site.start()
    said = site.json(f"/api/runs/{run}/carried")
    assert said == {"procedure": "mast-carried", "text": site.page(f"/runs/{run}/carried.yaml")}


def test_a_run_that_leaves_nothing_has_no_file_and_says_so(site: Site) -> None:
    run = site.start(SMALL)
    site.done(run, "rig/1", "rig/2", "paint/1", "wire/1")
    for person in ("EV1", "EV2"):
        site.order(run, "go", step="wire/2", person=person)
    site.done(run, "wire/2")
    page, answer = site.get(f"/runs/{run}/carried.yaml"), site.get(f"/api/runs/{run}/carried")
    assert (page.status_code, answer.status_code) == (404, 404)
    assert f"Run {run} leaves nothing" in words(page.text)
    assert answer.json()["code"] == "nothing-owed"
    assert "carried.yaml" not in site.page(f"/runs/{run}/log")


def test_a_run_or_a_moment_that_is_not_there_is_a_sentence(site: Site) -> None:
    run = site.start()
    for address in (f"/runs/{run + 1}/carried.yaml", f"/runs/{run}/carried.yaml?at=9:00:00"):
        assert site.get(address).status_code == 404
        assert site.get(f"/api{address.replace('.yaml', '')}").status_code == 404
    assert site.get(f"/runs/{run}/carried.yaml?at=soon").status_code == 422
