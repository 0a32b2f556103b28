"""Runs as files over the web, and the plan as a calendar: with the head, under a safe name, and for whom they are."""

import csv
import json
from io import BytesIO, StringIO

import icalendar
import pytest
from openpyxl import load_workbook

from app.core.commands import EndRun
from app.core.commands_rehearsal import SetInject
from app.reading.run_lines import read_run_lines
from app.service.run_files import FILE_KINDS
from tests.service.making import sender
from tests.service.recorded import recorded
from tests.web.accounts import with_people
from tests.web.site import Site, words


@pytest.fixture
def run(site: Site) -> int:
    return recorded(site.shell.service, site.clock)


@pytest.mark.parametrize("kind", FILE_KINDS)
def test_a_run_is_fetched_with_the_head_of_its_log(site: Site, run: int, kind: str) -> None:
    last = site.json(f"/api/runs/{run}/events")[-1]
    answer = site.get(f"/runs/{run}/as-run.{kind}")
    assert answer.status_code == 200
    assert answer.headers["X-Leadline-Head"] == f"{last['seq']}:{last['chain']}"
    name = f"run-{run}.jsonl" if kind == "jsonl" else f"run-{run}-as-run.{kind}"
    assert answer.headers["content-disposition"] == f'attachment; filename="{name}"'
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["cache-control"] == "no-store"


def test_the_files_are_what_they_say(site: Site, run: int) -> None:
    rows = list(csv.DictReader(StringIO(site.get(f"/runs/{run}/as-run.csv").content.decode("utf-8-sig"))))
    assert {row["step"]: row["state"] for row in rows}["rig/1"] == "done"
    book = load_workbook(BytesIO(site.get(f"/runs/{run}/as-run.xlsx").content))
    assert book.sheetnames == ["As run", "Log", "Run"]
    assert site.get(f"/runs/{run}/as-run.xes").headers["content-type"] == "application/xml"
    assert len(read_run_lines(site.get(f"/runs/{run}/as-run.jsonl").content).log) == 13


def test_the_events_of_the_file_are_those_of_the_api(site: Site, run: int) -> None:
    lines = [json.loads(line) for line in site.get(f"/runs/{run}/as-run.jsonl").content.splitlines()]
    told = site.json(f"/api/runs/{run}/events")
    assert [{name: each for name, each in line.items() if name != "version"} for line in lines[1:]] == told


@pytest.mark.parametrize(
    "address", ["/runs/9/as-run.csv", "/runs/1/as-run.pdf", "/runs/1/as-run.", "/runs/x/as-run.csv"]
)
def test_what_is_not_there_is_answered_in_words(site: Site, run: int, address: str) -> None:
    assert run == 1
    answer = site.get(address)
    assert answer.status_code == 404
    assert "Not Found" in words(answer.text)


def test_the_plan_is_a_calendar_from_the_zero_that_is_given(site: Site) -> None:
    revision = site.load()
    answer = site.get(f"/procedures/{revision}/plan.ics?zero=2027-03-01T14:00Z")
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    assert answer.headers["content-disposition"] == 'attachment; filename="mast-plan.ics"'
    events = icalendar.Calendar.from_ical(answer.content).events
    assert [str(each["SUMMARY"]) for each in events] == [
        "Rig the mast (EV1)",
        "Wire the lamp (EV2)",
        "Paint the foot (EV1)",
    ]
    assert events[1].start.isoformat() == "2027-03-01T14:15:00+00:00"
    assert site.get(f"/procedures/{revision}/plan.ics?zero=2027-03-01T14:00Z").content == answer.content


@pytest.mark.parametrize("zero", ["", "?zero=", "?zero=soon", "?zero=2027-13-01T14:00Z", "?zero=9999-12-31T23:59Z"])
def test_a_calendar_without_a_zero_says_what_is_missing(site: Site, zero: str) -> None:
    answer = site.get(f"/procedures/{site.load()}/plan.ics{zero}")
    assert answer.status_code == 422
    assert "zero" in words(answer.text)


def test_the_plan_asks_for_the_zero_by_a_plain_form(site: Site) -> None:
    revision = site.load()
    page = site.page(f"/procedures/{revision}")
    assert f'<form method="get" action="/procedures/{revision}/plan.ics"' in page
    assert 'name="zero" type="datetime-local"' in page


def test_whoever_may_look_may_take_a_run_along_and_nobody_else(site: Site, run: int) -> None:
    people = with_people(site)
    assert people["watch"].get(f"/runs/{run}/as-run.jsonl").status_code == 200
    answer = site.bare("GET", f"/runs/{run}/as-run.jsonl")
    assert (answer.status_code, answer.headers["location"].partition("?")[0]) == (303, "/sign-in")


def test_trouble_that_is_to_come_is_in_no_file_of_a_trainee(site: Site) -> None:
    run = site.start()
    trouble = SetInject("delay", 600, text="The wind rises", step="wire/1", by_s=120)
    site.shell.service.order(run, trouble, sender()).result()
    people = with_people(site)
    for right, told in (("mark", False), ("train", True)):
        book = load_workbook(BytesIO(people[right].get(f"/runs/{run}/as-run.xlsx").content))
        said = [str(row) for row in book["Log"].iter_rows(values_only=True)]
        assert any("The wind rises" in line for line in said) == told
        whole = people[right].get(f"/runs/{run}/as-run.jsonl")
        assert (whole.status_code, b"The wind rises" in whole.content) == ((200, True) if told else (403, False))
    site.shell.service.order(run, EndRun("over"), sender()).result()
    assert b"The wind rises" in people["mark"].get(f"/runs/{run}/as-run.jsonl").content
