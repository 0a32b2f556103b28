"""Tables over the web: sent in by the form and the API, fetched as files, and refused with sheet and cell."""

import re

import pytest

from app.reading.files import CSV_TYPE, XLSX_TYPE, read_file
from app.reading.procedure_reader import read_procedure
from app.settings import HOME
from app.web.files import safe_name
from app.writing.template import template
from tests.reading.workbooks import SMALL as ROWS
from tests.reading.workbooks import set_in, workbook
from tests.service.making import SMALL
from tests.web.site import Site, words

TABLES = {"csv": CSV_TYPE, "xlsx": XLSX_TYPE}
PUMP = (HOME / "procedures" / "pump-changeout.yaml").read_bytes()


@pytest.mark.parametrize("kind", TABLES)
def test_a_revision_fetched_as_a_table_is_the_same_procedure(site: Site, kind: str) -> None:
    revision = site.load(PUMP)
    answer = site.get(f"/procedures/{revision}/file.{kind}")
    assert answer.status_code == 200
    assert answer.headers["content-type"].split(";")[0] == TABLES[kind]
    assert answer.headers["content-disposition"] == f'attachment; filename="pump-changeout.{kind}"'
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert read_file(answer.content).procedure == read_procedure(PUMP).procedure


def test_the_text_of_a_revision_is_fetched_as_it_is_kept(site: Site) -> None:
    answer = site.get(f"/procedures/{site.load(PUMP)}/file.yaml")
    assert answer.content == PUMP
    assert answer.headers["content-type"] == "application/yaml; charset=utf-8"


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_table_sent_by_the_form_is_kept_as_yaml_under_its_name(site: Site, kind: str) -> None:
    table = site.get(f"/procedures/{site.load(PUMP)}/file.{kind}").content
    answer = site.post("/procedures", files={"file": (f"outing.{kind}", table)})
    assert answer.status_code == 303, words(answer.text)
    stored = site.shell.service.shelf.revision(answer.headers["location"].rpartition("/")[2])
    assert stored.source == f"outing.{kind}"
    assert read_procedure(stored.text).procedure == read_procedure(PUMP).procedure
    again = site.post("/procedures", files={"file": (f"other.{kind}", table)})
    assert again.headers["location"] == answer.headers["location"]


def test_csv_that_is_typed_in_is_known_by_its_header(site: Site) -> None:
    answer = site.post("/procedures", data={"text": template("csv").decode()})
    assert answer.status_code == 303, words(answer.text)
    assert "My outing" in site.page(answer.headers["location"])


@pytest.mark.parametrize("kind", TABLES)
def test_the_api_takes_tables(site: Site, kind: str) -> None:
    data = template("csv" if kind == "csv" else "xlsx")
    answer = site.post("/api/procedures", content=data, headers={"content-type": TABLES[kind]})
    assert answer.status_code == 201, answer.text
    assert answer.json()["procedure"] == "my-outing"
    again = site.post("/api/procedures", content=data, headers={"content-type": TABLES[kind]})
    assert again.status_code == 200
    assert again.json()["revision"] == answer.json()["revision"]


@pytest.mark.parametrize("kind", TABLES)
def test_what_the_api_calls_a_table_is_read_as_one(site: Site, kind: str) -> None:
    answer = site.post("/api/procedures", content=SMALL, headers={"content-type": TABLES[kind]})
    assert answer.status_code == 422
    assert site.json("/api/procedures") == []


def test_a_fault_of_a_workbook_is_told_by_sheet_and_cell(site: Site) -> None:
    bad = workbook(set_in(ROWS, 5, 5, "8"))
    page = site.post("/procedures", files={"file": ("outing.xlsx", bad)})
    assert page.status_code == 422
    assert "Steps!E5 “8” does not say its unit." in words(page.text)
    answer = site.post("/api/procedures", content=bad, headers={"content-type": XLSX_TYPE})
    (fault,) = answer.json()["faults"]
    assert (fault["cell"], fault["line"], fault["column"]) == ("Steps!E5", 5, 5)
    assert site.json("/api/procedures") == []


def test_a_fault_of_a_csv_file_is_told_by_line_and_cell(site: Site) -> None:
    bad = template("csv").replace(b",20 min,", b",20,")
    page = site.post("/procedures", files={"file": ("outing.csv", bad)})
    assert page.status_code == 422
    assert re.search(r"line 29, column \d+, cell E29 “20” does not say its unit", words(page.text))


def test_the_templates_are_linked_and_fetched(site: Site) -> None:
    page = site.page("/")
    for kind, media in TABLES.items():
        assert f'href="/procedures/template.{kind}"' in page
        answer = site.get(f"/procedures/template.{kind}")
        assert answer.headers["content-type"].split(";")[0] == media
        assert answer.headers["content-disposition"] == f'attachment; filename="procedure-template.{kind}"'
        assert read_file(answer.content).procedure is not None
    assert site.get("/procedures/template.pdf").status_code == 404


def test_the_plan_links_its_files(site: Site) -> None:
    revision = site.load()
    page = site.page(f"/procedures/{revision}")
    for kind in ("yaml", "csv", "xlsx"):
        assert f'href="/procedures/{revision}/file.{kind}"' in page
    assert site.get(f"/procedures/{revision}/file.pdf").status_code == 404
    assert site.get("/procedures/nothing/file.csv").status_code == 404


@pytest.mark.parametrize(("name", "safe"), [
    ("pump-changeout", "pump-changeout"), ("CON", "procedure-CON"), ("nul.x", "procedure-nul.x"), ("..", "procedure"),
    (".hidden", "hidden"), ("a/../b", "a-..-b"), ('a"\r\nb', "a---b"), ("é", "procedure"), ("x" * 300, "x" * 80),
])  # fmt: skip
def test_a_file_name_is_safe_everywhere(name: str, safe: str) -> None:
    assert safe_name(name) == safe
