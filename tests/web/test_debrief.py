"""The debrief as a page and as a file: what it says, that its charts are its tables, and that all text is text."""

import re

import pytest

from app.core.times import duration
from tests.service.making import SAMPLES, SMALL
from tests.web.finished import finished
from tests.web.site import Site, words
from tests.web.test_pages import BARE

SAMPLE = (SAMPLES / "pump-changeout.yaml").read_bytes()
NASTY = SMALL.replace(b"Mast work", b'"<script>alert(1)</script>"').replace(b"Open the box", b'"<img src=x>"')


@pytest.fixture
def run(site: Site) -> int:
    return finished(site, slow_s=180)


def section(page: str, name: str) -> str:
    """The words of the section of this id."""
    found = re.search(rf'id="{name}"(.*?)</section>', page, re.S)
    assert found, name
    return words(f"<p {found[1]}")


def test_it_says_how_the_run_ended_against_plan_and_limit(site: Site, run: int) -> None:
    told = words(site.page(f"/runs/{run}/debrief"))
    assert "Ended at 00:31:20" in told
    assert "The run ended at 00:31:20: lamp lit" in told
    assert "Finish 00:31:00 4m later" in told
    assert "Team, against plan ▼ 4m behind" in told


def test_won_and_lost_stand_with_the_log_s_words_and_add_up(site: Site, run: int) -> None:
    found = site.json(f"/api/runs/{run}/debrief")
    told = section(site.page(f"/runs/{run}/debrief"), "moves")
    team = found["lead"]["team"]
    assert sum(move["lead_s"] for move in team) == found["at_end"]["lead_s"] == -240
    for move in team:
        assert move["words"] in told
        assert f"{duration(move['lead_s'])} {'won' if move['lead_s'] > 0 else 'lost'}" in told
    assert "Note on “Raise the mast” (rig/2): The guy rope was frozen." in told
    assert "to the lead at the end: 4m behind" in told


def test_a_hold_says_how_long_it_waited_for_whom(site: Site, run: int) -> None:
    told = section(site.page(f"/runs/{run}/debrief"), "holds")
    assert "Is the lamp lit? wire/2 · EV2 00:28:00 3m EV2 3m; EV1 1m 00:29:00 EV1 is go" in told
    assert "No poll was called." in told


def test_a_decision_has_what_was_known_then(site: Site, run: int) -> None:
    told = section(site.page(f"/runs/{run}/debrief"), "decisions")
    assert "00:18:00 Put off: “Paint the foot”. rain" in told
    assert "▼ 3m behind 00:30:00 no limit nothing" in told


def test_work_beside_the_plan_says_what_became_of_it(site: Site, run: int) -> None:
    page = site.page(f"/runs/{run}/debrief")
    told = section(page, "work")
    assert "Paint the foot put off put off and carries over" in told
    assert "Sweep the yard get-ahead not taken" in told
    assert "Paint the foot · 1 step put off: rain" in section(page, "carried-over")


def test_people_tasks_and_steps_have_plan_and_actual(site: Site, run: int) -> None:
    page = site.page(f"/runs/{run}/debrief")
    assert "EV2 Right 00:15:00 to 00:27:00 00:18:00 to 00:31:00" in section(page, "people")
    told = section(page, "tasks")
    assert "Rig the mast rig · done 00:00:00 to 00:15:00 00:00:00 to 00:18:00 ▼ 3m later" in told
    raised = "Raise the mast rig/2 EV1 00:05:00 to 00:15:00 00:04:00 * 00:18:00 ▼ 3m later 14m 10m"
    assert raised in told


def test_the_chart_has_a_lane_for_each_person_with_plan_and_as_run(site: Site, run: int) -> None:
    page = site.page(f"/runs/{run}/debrief")
    lanes = re.search(r'id="lanes"(.*?)</section>', page, re.S)
    assert lanes is not None
    assert "EV1: plan above, as run below; 2 of 2 steps done" in lanes[1]
    assert "<title>Plan: Rig the mast</title>" in lanes[1]
    assert 'class="over"' in lanes[1]
    assert "<title>Raise the mast: 14m, likely 10m</title>" in lanes[1]
    assert 'class="hold"' in lanes[1]


def test_the_end_of_an_ended_run_is_not_called_now(site: Site, run: int) -> None:
    page = site.page(f"/runs/{run}/debrief")
    assert "end 00:31" in page
    assert "now 00:31" not in page


def test_a_run_that_goes_on_is_told_so_far(site: Site) -> None:
    run = site.start()
    site.clock.at_s = 360
    told = words(site.page(f"/runs/{run}/debrief"))
    assert "So far, at 00:06:00" in told
    assert "This is told so far, at 00:06:00; load it again for what is newer." in told
    assert "Would carry over if the run ended now" in told
    assert "1m lost 00:05:00 to 00:06:00 Ran over: “Open the box” (rig/1)" in told


def test_other_runs_of_the_procedure_are_laid_over_it(site: Site, run: int) -> None:
    assert 'id="others"' not in site.page(f"/runs/{run}/debrief")
    second = finished(site)
    page = site.page(f"/runs/{second}/debrief")
    told = section(page, "others")
    assert f"run {second} ended" in told
    assert f"run {run} ended" in told
    assert page.count("data-run=") == 2
    assert f'href="/compare?run={run}&amp;run={second}"' in page


def test_it_is_the_last_tab_of_a_run_and_keeps_no_past_moment(site: Site, run: int) -> None:
    page = site.page(f"/runs/{run}/desk?at=0:05:00")
    tabs = re.findall(r'<a href="(/runs/[^"]*)"', page)
    assert f"/runs/{run}/debrief" in tabs
    assert 'aria-current="page">Debrief<' in site.page(f"/runs/{run}/debrief")


def test_the_file_holds_all_that_it_needs_and_no_link_to_the_server(site: Site, run: int) -> None:
    answer = site.get(f"/runs/{run}/debrief.html")
    assert answer.headers["content-disposition"] == f'attachment; filename="mast-run-{run}-debrief.html"'
    page = answer.text
    assert "default-src 'none'; style-src 'unsafe-inline'; font-src data:" in page
    assert "<script" not in page
    assert not re.search(r'(href|src|action)="(?!#)', page)
    assert "url(" not in page.replace('url("data:font/woff2;base64,', "")
    whole = words(re.sub(r"<style>.*?</style>", "", page, flags=re.S))
    for part in ("Where the lead was won and lost", "Put off: “Paint the foot”. rain", "Is the lamp lit?", "Log head"):
        assert part in whole


def test_page_and_file_say_the_same(site: Site, run: int) -> None:
    page, kept = site.page(f"/runs/{run}/debrief"), site.page(f"/runs/{run}/debrief.html")
    for name in ("moves", "holds", "decisions", "people", "tasks", "watch", "tools", "remarks"):
        assert section(page, name) == section(kept, name)


def test_text_of_a_file_is_text_in_the_debrief_too(site: Site) -> None:
    run = site.start(NASTY)
    site.clock.at_s = 100
    site.order(run, "note", step="rig/1", reason="</style><b onload=x>bold")
    for name in ("debrief", "debrief.html"):
        page = site.page(f"/runs/{run}/{name}")
        for tag in ("<script>alert", "<img src=x", "<b onload"):
            assert tag not in page
        assert page.count("</style>") == (1 if name == "debrief.html" else 0)
        assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page


def test_there_is_none_of_a_run_that_is_not_there(site: Site) -> None:
    for name in ("debrief", "debrief.html"):
        assert site.get(f"/runs/99/{name}").status_code == 404
    assert site.get("/api/runs/99/debrief").status_code == 404


def test_the_sample_half_way_has_rounds_supplies_and_tools(site: Site) -> None:
    run = site.start(SAMPLE)
    site.clock.at_s = 3000
    site.order(run, "tool", tool="camera", how="taken", person="EV1")
    site.order(run, "reading", supply="battery", person="EV1", value="86")
    site.order(run, "round-good", round="gloves-and-suit", person="EV1")
    site.clock.at_s = 9000
    page = site.page(f"/runs/{run}/debrief")
    told = section(page, "watch")
    assert "EV1 gloves-and-suit · ▲ made once; 1 overdue" in told
    assert "EV2 gloves-and-suit · ▲ made 0 times; 1 overdue, the latest by 1h 30m" in told
    assert "EV1 battery · lowest 86 % 00:50:00; one reading is no rate" in told
    assert "camera · ▲ EV1 has it since 00:50:00 OUT" in section(page, "tools")


def test_a_procedure_without_people_and_without_length_has_a_debrief_and_a_comparison(site: Site) -> None:
    one, two = site.start(BARE), site.start(BARE)
    for name in ("debrief", "debrief.html"):
        site.page(f"/runs/{one}/{name}")
    site.done(one, "a/1")
    site.clock.at_s = 90
    site.page(f"/runs/{one}/debrief")
    site.page(f"/compare?run={one}&run={two}")


def test_the_person_s_leads_stand_folded_under_the_team_s(site: Site, run: int) -> None:
    told = section(site.page(f"/runs/{run}/debrief"), "moves")
    assert "EV2's lead: 1m won, 5m lost, 4m behind" in told
