"""The trainer's page: what it orders, and that trainees do not see what is to come."""

import pytest

from app.web.withheld import WITHHELD
from tests.web.accounts import Browser, quick, with_people
from tests.web.site import Site, words

TROUBLE = {
    "do": "inject",
    "what": "delay",
    "step": "rig/2",
    "takes": "5 min",
    "text": "the mast sticks",
    "set_to": "0:20",
}


@pytest.fixture
def peopled(site: Site, monkeypatch: pytest.MonkeyPatch) -> dict[str, Browser]:
    monkeypatch.setattr("app.service.passwords._hasher", quick)
    return with_people(site)


def ordered(site: Site, run: int, **fields: str) -> str:
    """The page after an order of it, in words."""
    answer = site.post(f"/runs/{run}/orders", data={"page": "trainer", **fields})
    assert answer.status_code in (200, 303), words(answer.text)
    return words(site.page(f"/runs/{run}/trainer"))


def test_the_clock_is_stopped_sped_up_and_set_forward_from_the_page(site: Site) -> None:
    run = site.start()
    assert "The clock runs" in words(site.page(f"/runs/{run}/trainer"))
    site.clock.at_s = 60
    said = ordered(site, run, do="clock", rate="0")
    assert "The clock stands" in said
    assert "Elapsed stands" in said
    assert "Go on" in said
    site.clock.at_s = 600
    said = ordered(site, run, do="clock", rate="10")
    assert "Elapsed 10× 00:01:00" in said
    assert "The clock runs 10 times as fast" in said
    assert "00:20:00" in ordered(site, run, do="clock", set_to="0:20:00")
    log = words(site.page(f"/runs/{run}/log"))
    assert "The clock stands from 00:01:00 on" in log
    assert "The clock runs 10 times as fast from 00:20:00 on" in log


def test_a_clock_set_back_is_refused_in_words_on_the_page(site: Site) -> None:
    run = site.start()
    site.clock.at_s = 600
    answer = site.post(f"/runs/{run}/orders", data={"page": "trainer", "do": "clock", "set_to": "0:05"})
    assert answer.status_code == 409
    assert "can't be set back from 00:10:00 to 00:05:00" in words(answer.text)


def test_the_ticks_tell_how_the_clock_goes(site: Site) -> None:
    run = site.start()
    ordered(site, run, do="clock", rate="60")
    site.clock.at_s = 2
    live = site.shell.service.run(run)
    data = site.shell.live._data(run, site.shell.service.situation(run), {})
    assert (data["rate"], data["elapsed_ms"], live.now_s()) == (60, 120_000, 120)


def test_people_are_simulated_from_the_page(site: Site) -> None:
    run = site.start()
    answer = site.post(f"/runs/{run}/orders", data={"page": "trainer", "do": "players", "who": ["EV2"], "seed": "7"})
    assert answer.status_code == 303
    page = site.page(f"/runs/{run}/trainer")
    assert 'value="EV2" checked' in page
    assert 'value="EV1" checked' not in page
    assert "Simulated people play EV2 (seed 7)" in words(site.page(f"/runs/{run}/log"))


EACH = [
    (TROUBLE, "delay of 5m at “Raise the mast” (rig/2): the mast sticks"),
    ({"do": "inject", "what": "failed step", "step": "rig/1"}, "“Open the box” (rig/1) fails"),
    (
        {"do": "inject", "what": "wrong reading", "step": "rig/2", "value": "95,5"},
        "wrong reading of angle at “Raise the",
    ),
    ({"do": "inject", "what": "no-go", "person": "EV2", "takes": "3 min"}, "EV2 is no-go, lifted after 3m"),
]


@pytest.mark.parametrize(("fields", "said"), EACH)
def test_trouble_is_listed_and_dropped_or_said(site: Site, fields: dict[str, str], said: str) -> None:
    run = site.start()
    page = ordered(site, run, **fields)
    assert said in page
    assert "say it on the loop" in page
    assert said not in ordered(site, run, do="inject-done", inject="inject-1")
    assert said in ordered(site, run, **fields)
    assert said not in ordered(site, run, do="drop-inject", inject="inject-2")


def test_what_befalls_simulated_people_alone_comes_by_itself(site: Site) -> None:
    run = site.start()
    site.post(f"/runs/{run}/orders", data={"page": "trainer", "do": "players", "who": ["EV1"]})
    assert "simulated people bring it about" in ordered(site, run, **TROUBLE)


def test_random_trouble_is_drawn_from_the_page(site: Site) -> None:
    run = site.start()
    assert "Trouble to come · 3" in ordered(site, run, do="draw-trouble", number="3", seed="5")


@pytest.mark.parametrize("seed", ["abc", "-3", "1.5", "9" * 40])
def test_a_seed_that_is_none_is_refused_and_not_taken_for_another(site: Site, seed: str) -> None:
    run = site.start()
    for order in ({"do": "players", "who": "EV1"}, {"do": "draw-trouble", "number": "2"}):
        answer = site.post(f"/runs/{run}/orders", data={"page": "trainer", "seed": seed, **order})
        assert answer.status_code in (409, 422)
        assert "seed" in words(answer.text)
    assert len(site.shell.service.run(run).log) == 1


def test_trouble_of_a_step_is_due_when_its_step_is(site: Site) -> None:
    run = site.start()
    assert "00:00:00 due" not in ordered(site, run, **{**TROUBLE, "set_to": ""})
    assert "00:00:00 due" in ordered(site, run, do="inject", what="failed step", step="rig/1")


def test_a_run_with_simulated_people_is_said_to_be_so_wherever_runs_are_named(site: Site) -> None:
    run, other = site.start(), site.start()
    site.post(f"/runs/{run}/orders", data={"page": "trainer", "do": "players", "who": ["EV1", "EV2"]})
    site.post(f"/runs/{other}/orders", data={"page": "trainer", "do": "players", "who": ["EV2"]})
    for page in ("/", "/runs", f"/compare?run={run}&run={other}"):
        said = words(site.page(page))
        assert "all simulated" in said, page
        assert "EV2 simulated" in said, page
    for page in ("desk", "lead", "list/EV1", "debrief", "log"):
        assert "all simulated" in words(site.page(f"/runs/{run}/{page}")), page


def test_a_live_run_has_a_trainers_page_that_only_says_so(site: Site) -> None:
    answer = site.post("/runs", data={"revision": site.load(), "kind": "live"})
    run = int(answer.headers["location"].split("/")[2])
    page = site.page(f"/runs/{run}/trainer")
    assert "This run is live" in words(page)
    assert 'name="do"' not in page.partition("<main")[2].partition("</main>")[0]
    assert "/trainer" not in site.page(f"/runs/{run}/desk")


@pytest.mark.parametrize("right", ["watch", "mark", "lead"])
def test_trainees_see_neither_the_page_nor_what_is_to_come(site: Site, peopled: dict[str, Browser], right: str) -> None:
    run = int(peopled["lead"].post("/api/runs", json={"procedure": site.load(), "kind": "rehearsal"}).json()["run"])
    assert peopled["train"].post(f"/api/runs/{run}/orders", json={**TROUBLE, "set_to": "0:20"}).status_code == 200
    trainee = peopled[right]
    assert trainee.get(f"/runs/{run}/trainer").status_code == 403
    assert "/trainer" not in trainee.get(f"/runs/{run}/desk").text
    for page in ("desk", "lead", "list/EV1", "log", "handover"):
        assert "sticks" not in trainee.get(f"/runs/{run}/{page}").text, page
    told = trainee.get(f"/api/runs/{run}/events").json()
    assert (told[-1]["kind"], told[-1]["body"], told[-1]["seq"]) == (WITHHELD, {}, 2)
    if right != "watch":
        sent = trainee.post(f"/runs/{run}/orders", data={"page": "trainer", "do": "note", "reason": "let me see"})
        assert sent.status_code in (303, 404)
        refused = trainee.post(f"/runs/{run}/orders", data={"page": "trainer", "do": "clock", "rate": "0"})
        assert refused.status_code in (403, 404)
        assert "sticks" not in sent.text + refused.text


def test_whoever_trains_sees_it_and_all_do_when_the_rehearsal_has_ended(
    site: Site, peopled: dict[str, Browser]
) -> None:
    run = int(peopled["lead"].post("/api/runs", json={"procedure": site.load(), "kind": "rehearsal"}).json()["run"])
    peopled["train"].post(f"/api/runs/{run}/orders", json=TROUBLE)
    assert "sticks" in peopled["train"].get(f"/runs/{run}/log").text
    assert "sticks" in peopled["train"].get(f"/runs/{run}/trainer").text
    assert peopled["train"].get(f"/api/runs/{run}/events").json()[-1]["kind"] == "InjectSet"
    peopled["lead"].post(f"/api/runs/{run}/orders", json={"do": "end", "reason": "enough"})
    assert "sticks" in peopled["watch"].get(f"/runs/{run}/log").text
    assert peopled["watch"].get(f"/api/runs/{run}/events").json()[1]["kind"] == "InjectSet"


def test_the_head_of_the_log_is_that_of_all_of_it_whoever_looks(site: Site, peopled: dict[str, Browser]) -> None:
    run = int(peopled["lead"].post("/api/runs", json={"procedure": site.load(), "kind": "rehearsal"}).json()["run"])
    peopled["train"].post(f"/api/runs/{run}/orders", json=TROUBLE)
    head = site.shell.service.run(run).log[-1].chain
    assert head in peopled["watch"].get(f"/runs/{run}/log").text
    assert head in peopled["train"].get(f"/runs/{run}/log").text
