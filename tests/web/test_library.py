"""The page of all runs: found by what is asked, with what can be had of each; and the form that takes one in."""

import html
import re
from functools import partial
from pathlib import Path

import pytest

from app.core.commands import EndRun
from app.service.finding import find_runs
from app.service.run_files import run_file
from app.service.runs import Service
from app.web.library import IMPORT, LARGEST_SENT
from tests.service.making import SMALL, SetClock, sender, small_run, store
from tests.service.recorded import recorded
from tests.web.accounts import with_people
from tests.web.site import Site, forms, words

HOSTILE = SMALL.replace(b"title: Mast work", b"title: '<script>alert(1)</script> {{7*7}} \"x\"'")


@pytest.fixture
def brought(tmp_path: Path) -> bytes:
    """The file of a run that another Leadline made, as its run 2."""
    clock = SetClock()
    with store(tmp_path / "elsewhere") as opened:
        elsewhere = Service(opened, clock.server())
        small_run(elsewhere)
        clock.at_s = 50
        return run_file(elsewhere, recorded(elsewhere, clock), "jsonl").data


def rows(page: str) -> list[str]:
    """The runs of the page, each in words."""
    body = page.partition('<table class="stack found">')[2].partition("</table>")[0].partition("<tbody>")[2]
    return [words(row) for row in re.findall(r"<tr>.*?</tr>", body, re.S)]


def sent(site: Site, data: bytes, name: str = "run.jsonl") -> tuple[int, str]:
    answer = site.post(IMPORT, files={"file": (name, data)})
    return answer.status_code, words(answer.text)


def test_each_run_stands_there_with_its_state_its_finish_and_its_pages(site: Site) -> None:
    ended, open_run = recorded(site.shell.service, site.clock), site.start()
    page = site.page("/runs")
    newest, oldest = rows(page)
    assert newest.startswith(f"Mast work · rehearsal {open_run}")
    assert "under way" in newest
    assert "on plan" in newest
    assert oldest.startswith(f"Mast work · live {ended}")
    assert "ended 00:28:20 ▼ 1m 20s behind plan 00:27:00" in oldest
    for run in (ended, open_run):
        for address in (
            "desk",
            "desk?at=0:00:00",
            "debrief",
            "log",
            "as-run.csv",
            "as-run.xlsx",
            "as-run.xes",
            "as-run.jsonl",
        ):
            assert f'href="/runs/{run}/{address}"' in page


def test_a_run_that_ended_with_steps_open_has_no_lead(site: Site) -> None:
    run = site.start()
    site.shell.service.order(run, EndRun("Storm"), sender()).result()
    assert "ended 00:00:00, 5 steps open – plan 00:27:00" in rows(site.page("/runs"))[0]


def test_no_page_offers_to_delete_a_run(site: Site) -> None:
    site.start()
    page = site.page("/runs")
    assert "none is ever deleted" in words(page)
    assert {form["action"] for form in forms(page)} == {"/runs", "/runs/import"}
    assert site.request("DELETE", "/runs/1").status_code == 405


def test_what_is_asked_stands_in_the_form_and_narrows_the_list(site: Site) -> None:
    recorded(site.shell.service, site.clock)
    site.start()
    page = site.page("/runs?kind=live&person=ana&from=2031-05-04&procedure=mast")
    assert len(rows(page)) == 1
    assert "1 run found" in words(page)
    for said in (
        'value="ana"',
        'value="2031-05-04"',
        '<option value="mast" selected>',
        "<option selected>live</option>",
    ):
        assert said in page
    assert "No run fits all of that" in words(site.page("/runs?person=nobody"))


@pytest.mark.parametrize("asked", ["from=yesterday", "kind=game", "to=2031-02-30"])
def test_what_can_t_be_asked_is_said_and_the_form_stands(site: Site, asked: str) -> None:
    site.start()
    answer = site.get(f"/runs?{asked}&person=Ana")
    assert answer.status_code == 422
    assert "Not done." in words(answer.text)
    assert 'value="Ana"' in answer.text


@pytest.mark.parametrize("asked", ["page=0", "page=x", f"page={10**30}", "person=" + "x" * 201])
def test_an_address_that_nobody_makes_is_refused(site: Site, asked: str) -> None:
    assert site.get(f"/runs?{asked}").status_code == 422


def test_the_links_to_other_pages_keep_what_was_asked(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.web.library.find_runs", partial(find_runs, most=2))
    for _ in range(5):
        site.start()
    page = site.page("/runs?kind=rehearsal&page=2")
    assert [row.split()[4] for row in rows(page)] == ["3", "2"]
    links = [html.unescape(each) for each in re.findall(r'href="(/runs\?[^"]*)"', page)]
    assert links == ["/runs?kind=rehearsal", "/runs?kind=rehearsal&page=3"]
    assert len(rows(site.page(links[1]))) == 1


def test_a_title_from_a_file_is_text(site: Site) -> None:
    site.start(HOSTILE)
    page = site.page("/runs?person=<script>")
    page += site.page("/runs")
    assert "<script>alert" not in page
    assert "{{7*7}}" in page


def test_a_damaged_run_is_listed_and_said_to_be(site: Site) -> None:
    run = site.start()
    site.shell.service._damaged.add(run)
    (row,) = rows(site.page("/runs"))
    assert f"“leadline verify {run}” says why" in row


def test_a_run_is_imported_by_the_form_and_said_to_be_there(site: Site, brought: bytes) -> None:
    status, said = sent(site, brought, "larkspur.jsonl")
    assert status == 200
    assert "Done. Imported as run 1; where it was made it is run 2. 13 events, chain whole, head 13:" in said
    (row,) = rows(site.page("/runs"))
    assert "imported" in row
    assert "by Ground support from larkspur.jsonl; run 2 where it was made" in row
    again, said = sent(site, brought)
    assert again == 200
    assert "It is here already, as run 1; nothing was changed." in said
    assert len(site.json("/api/runs")) == 1


def test_every_page_of_a_record_says_what_it_is_and_offers_nothing_to_press(site: Site, brought: bytes) -> None:
    sent(site, b"\n".join(brought.splitlines()[:1]))
    sent(site, brought)
    for page in ("desk", "lead", "list/EV1", "log", "handover"):
        shown = site.page(f"/runs/1/{page}")
        assert "A record: imported" in words(shown), page
        assert f'action="/runs/{1}/orders"' not in shown, page
        assert " data-clock" not in shown, page
    assert "imported" in words(site.page("/"))
    assert site.json("/api/runs/1")["imported"] is True


def test_an_order_to_a_record_is_refused_with_a_sentence(site: Site, brought: bytes) -> None:
    sent(site, brought)
    answer = site.order(1, "note", reason="late")
    assert answer.status_code == 409
    assert "nothing is entered in it here" in words(answer.text)
    told = site.post("/api/runs/1/orders", json={"do": "note", "reason": "late"})
    assert (told.status_code, told.json()["code"]) == (409, "imported")


@pytest.mark.parametrize(("change", "said"), [
    (lambda data: data.replace(b"Ana Lead", b"Eva Lead", 1), "Line 3: it was changed"),
    (lambda data: data[: len(data) // 2], "can't be read as JSON"), (lambda _: b"", "The file is empty."),
    (lambda data: b"\xff\xfe" + data, "Line 1: it is not UTF-8 text"),
])  # fmt: skip
def test_a_file_that_can_t_be_taken_is_refused_with_its_line(
    site: Site, brought: bytes, change: object, said: str
) -> None:
    assert callable(change)
    status, told = sent(site, change(brought))
    assert status == 422
    assert said in told
    assert "Nothing was stored." in told
    assert rows(site.page("/runs")) == []


def test_without_a_file_the_form_says_so(site: Site) -> None:
    answer = site.post(IMPORT, data={"x": "y"})
    assert answer.status_code == 422
    assert "Choose the file of a run first" in words(answer.text)


def test_a_larger_file_is_taken_here_than_elsewhere_and_one_beyond_it_is_refused_in_words(site: Site) -> None:
    status, said = sent(site, b"x" * 3_000_000)
    assert (status, "more than a line may" in said) == (422, True)
    answer = site.post(
        IMPORT, content=b"a" * (LARGEST_SENT + 1), headers={"content-type": "multipart/form-data; boundary=x"}
    )
    assert answer.status_code == 413
    assert "larger than the file of a run may be" in words(answer.text)


def test_only_who_leads_may_import_and_sees_the_form(site: Site, brought: bytes) -> None:
    people = with_people(site)
    for right, may in (("watch", False), ("mark", False), ("lead", True), ("keep", True)):
        assert ("Import a run" in people[right].get("/runs").text) == may
        answer = people[right].post(IMPORT, files={"file": ("x.jsonl", brought)})
        assert answer.status_code == (200 if may else 403)


def test_the_api_finds_by_the_same_questions(site: Site) -> None:
    live = recorded(site.shell.service, site.clock)
    other = site.start()
    assert [run["run"] for run in site.json("/api/runs")] == [other, live]
    assert [run["run"] for run in site.json("/api/runs?kind=live&person=ana&to=2031-05-04")] == [live]
    assert site.get("/api/runs?from=soon").status_code == 422
