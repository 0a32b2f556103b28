"""What is ahead, on the Lead board: its words are the core's numbers, now and as they stood."""

from dataclasses import replace

import pytest

from app.core.times import clock, clock_short, duration, lead_words
from app.service import outlooks
from tests.web.site import Site, forms, words
from tests.web.yard import ALL, LEAST, MORE, YARD, ahead_of, figure, kinds, lead, part, rows

MOMENTS = {"at once": 0, "behind": 25 * 60, "past the limit": 45 * 60}


@pytest.fixture
def run(site: Site, monkeypatch: pytest.MonkeyPatch) -> int:
    """A run whose every look ahead is fresh, however fast the test asks."""
    monkeypatch.setattr(outlooks, "REST", 0)
    return site.start(YARD)


@pytest.fixture(params=list(MOMENTS.values()), ids=list(MOMENTS))
def page(request: pytest.FixtureRequest, site: Site, run: int) -> str:
    site.clock.at_s = request.param
    return site.page(lead(run))


def finish(site: Site, run: int) -> None:
    for step in ("dig", "fence", "gate", "saw", "paint", "home"):
        site.done(run, f"{step}/1")


def test_the_forecast_is_the_cores(site: Site, run: int, page: str) -> None:
    found = ahead_of(site, run).forecast
    assert found is not None
    team = found.team
    assert figure(page, "chance") == f"{team.chance} %"
    assert figure(page, "spread") == f"half by {clock(team.half_s)}, nine in ten by {clock(team.nine_tenths_s)}"
    assert f"{found.draws:,} draws from the pace so far" in words(part(page, "figures"))
    assert set(found.people) == {"EV1", "EV2"}
    for person, own in found.people.items():
        said = f"half by {clock(own.half_s)}, nine in ten by {clock(own.nine_tenths_s)}"
        assert figure(page, f"spread-{person}") == said
    for place, window in enumerate(found.windows):
        assert figure(page, f"window-{place}") == f"{window.chance} %"
        opening = f"Paint the shed in dry {clock_short(window.opens_s)} to {clock_short(window.closes_s)}"
        assert f"{window.chance} % {opening}" in words(part(page, "figures"))
    assert len(found.windows) == 1


def test_each_option_is_the_cores(site: Site, run: int, page: str) -> None:
    core = ahead_of(site, run)
    assert core.options.options
    titles = {task.id: task.title for task in core.situation.procedure.tasks}
    shown = [row for row in rows(part(page, "put_off")) if len(row) == 5 and row[0] != "Put off"]
    for row, option, chance in zip(shown, core.options.options, core.chances, strict=True):
        assert row[1:] == [
            str(option.worth),
            duration(option.wins_s),
            f"{clock(option.finish_s)} {lead_words(option.lead_s, 0)}",
            f"{chance} %",
        ]
        own = ", ".join(titles[task] for task in option.tasks if task not in option.along)
        assert row[0].startswith(own)
    orders = [each for each in forms(part(page, "put_off")) if each.get("do") == "put-off-set"]
    assert len(orders) == len(shown)


def test_at_once_there_are_three_options_and_what_goes_along_is_named(site: Site, run: int) -> None:
    page = site.page(lead(run))
    assert [option.tasks for option in ahead_of(site, run).options.options] == [LEAST, MORE, ALL]
    names = [row[0] for row in rows(part(page, "put_off")) if len(row) == 5][1:]
    assert names == [
        "Hang the gate",
        "Hang the gate, Paint the shed",
        "Set the fence, Paint the shed and what depends on it: Hang the gate",
    ]
    assert "Exact: every choice among the 3 tasks that can be put off was ruled on." in words(part(page, "put_off"))


def test_options_that_are_not_sure_say_so(site: Site, run: int, monkeypatch: pytest.MonkeyPatch) -> None:
    found = outlooks.made(site.shell.service.situation(run))
    first, *others = found.options.options
    unsure = replace(found.options, options=(replace(first, exact=False), *others), exact=False)
    monkeypatch.setattr(outlooks, "made", lambda situation: replace(found, options=unsure, situation=situation))
    said = words(part(site.page(lead(run)), "put_off"))
    assert "Not every choice among the 3 tasks that can be put off was looked at." in said
    assert said.count("best found") == 2  # the row's mark, and the sentence that explains it
    assert "Exact" not in said


@pytest.mark.parametrize(("at_s", "said"), [
    (0, ""), (23 * 60, "least loss for the plan's finish"), (25 * 60, "least loss for the plan's finish and the limit"),
])  # fmt: skip
def test_an_aim_is_named_only_while_it_is_not_met_already(site: Site, run: int, at_s: int, said: str) -> None:
    site.clock.at_s = at_s
    gate = next(row for row in rows(part(site.page(lead(run)), "put_off")) if row[0].startswith("Hang the gate"))
    assert gate[0] == f"Hang the gate {said}".strip()


def test_a_task_that_is_put_off_wins_what_was_said_and_its_chance_is_then_the_teams(site: Site, run: int) -> None:
    before = site.page(lead(run))
    expected = {name: figure(before, f"option-1-{name}") for name in ("finish", "chance", "lead")}
    site.post(f"/api/runs/{run}/orders", json={"do": "put-off-set", "tasks": list(MORE), "reason": "rain"})
    after = site.page(lead(run))
    assert {name: figure(after, name) for name in expected} == expected


def test_the_best_set_is_the_cores(site: Site, run: int) -> None:
    page, core = site.page(lead(run)), ahead_of(site, run)
    best = core.best
    assert best is not None
    said = words(part(page, "offers"))
    assert "Best together: Rake the leaves, then Stack the wood" in said
    assert figure(page, "set-lead") == lead_words(best.lead_after_s, 0)
    assert figure(page, "set-finish") == clock(best.finish_after_s)
    assert figure(page, "set-chance") == f"{core.best_chance} %"
    assert best.exact
    assert "exact: every set was tried at every place" in said
    assert "Take all 2" in said


def test_a_best_set_that_is_not_sure_says_so(site: Site, run: int, monkeypatch: pytest.MonkeyPatch) -> None:
    best = ahead_of(site, run).best
    assert best is not None
    found = outlooks.made(site.shell.service.situation(run))
    unsure = replace(best, exact=False)
    monkeypatch.setattr(outlooks, "made", lambda situation: replace(found, best=unsure, situation=situation))
    said = words(part(site.page(lead(run)), "offers"))
    assert "· best found" in said
    assert "exact" not in said


def test_there_is_no_best_set_while_the_team_is_behind(site: Site, run: int) -> None:
    site.clock.at_s = 21 * 60
    page = site.page(lead(run))
    assert "none while the team is behind" in words(part(page, "offers"))
    assert "Best together" not in page
    assert "take-set" not in [each.get("do") for each in forms(page)]


def test_the_critical_chain_is_the_cores(site: Site, run: int, page: str) -> None:
    core = ahead_of(site, run)
    shown = rows(part(page, "chain"))[1:]
    for row, link in zip(shown, core.chain, strict=True):
        step = core.situation.network.steps[link.step]
        assert row == [
            clock_short(link.start_s),
            clock_short(link.finish_s),
            " and ".join(step.who),
            f"{step.do} · {link.because}",
            duration(link.gain_s) if link.gain_s else "nothing alone",
        ]
    assert f"These steps set the finish, {clock(core.situation.projection.end_s)}" in words(part(page, "chain"))


def test_a_chain_beside_another_that_ends_as_late_says_that_both_must_be_quicker(site: Site) -> None:
    equal = YARD.replace(b"saw, takes: 25 min", b"saw, takes: 28 min").replace(
        b"do: Saw, takes: 25", b"do: Saw, takes: 28"
    )
    run = site.start(equal)
    said = words(part(site.page(lead(run)), "chain"))
    gains = [link.gain_s for link in ahead_of(site, run).chain]
    assert any(gains[:-1]) is False
    assert said.count("nothing alone") == len(gains) - 1


def test_a_past_moment_shows_what_stood_then_and_nothing_can_be_pressed(site: Site, run: int) -> None:
    then = site.page(lead(run))
    site.clock.at_s = 25 * 60
    site.done(run, "dig/1", "saw/1")
    site.order(run, "put-off", task="gate", reason="rain")
    past = site.page(lead(run, at="0:00:00"))
    for name in ("chance", "spread", "spread-EV1", "window-0", "option-2-chance", "set-chance", "set-finish"):
        assert figure(past, name) == figure(then, name), name
    for name in ("chain", "put_off", "offers"):
        cells = [[row[:5] for row in rows(part(page, name)) if len(row) > 1] for page in (past, then)]
        assert cells[0] == cells[1], name
    assert [each for each in forms(past) if each["method"] == "post"] == []
    assert figure(site.page(lead(run)), "chance") != figure(then, "chance")


def test_what_was_put_off_since_is_not_put_off_in_the_past(site: Site, run: int) -> None:
    site.clock.at_s = 60
    site.order(run, "put-off", task="gate", reason="rain")
    assert "Put off so far Hang the gate · rain" in words(part(site.page(lead(run)), "put_off"))
    assert "Put off so far" not in words(site.page(lead(run, at="0:00:59")))


def test_when_nothing_is_left_the_board_says_so_and_offers_no_option(site: Site, run: int) -> None:
    finish(site, run)
    assert ahead_of(site, run).forecast is None
    page = site.page(lead(run))
    assert "Chance to finish in time – nothing is left to do" in words(part(page, "figures"))
    assert "Nothing is left to do." in words(part(page, "chain"))
    assert "Putting off what may be put off wins no time now." in words(part(page, "put_off"))
    assert site.json(f"/api/runs/{run}/outlook")["forecast"] is None
    assert {figure(page, f"spread-{person}") for person in ("EV1", "EV2")} == {""}


def test_a_person_with_nothing_left_has_no_forecast_beside_one_who_has(site: Site) -> None:
    run = site.start(YARD.replace(b"who: [EV1, EV2]", b"who: EV2"))
    site.done(run, "dig/1", "fence/1", "gate/1")
    page = site.page(lead(run))
    assert figure(page, "spread-EV1") == ""
    assert figure(page, "spread-EV2") == figure(page, "spread")
    assert set(site.json(f"/api/runs/{run}/outlook")["forecast"]["crew"]) == {"EV2"}


def test_without_a_limit_there_is_a_forecast_and_no_chance(site: Site) -> None:
    run = site.start(YARD.replace(b"finish: 0:52, ", b""))
    page = site.page(lead(run))
    said = words(part(page, "figures"))
    assert "Chance to finish in time – the procedure gives no limit" in said
    assert figure(page, "spread").startswith("half by 00:")
    assert "Chance" not in rows(part(page, "put_off"))[0]
    assert "chance" not in words(part(page, "offers"))
    found = site.json(f"/api/runs/{run}/outlook")
    assert found["forecast"]["team"]["chance"] is None
    assert {option["chance"] for option in found["putting_off"]["options"]} == {None}
    assert {option["room_s"] for option in found["putting_off"]["options"]} == {None}


def test_an_ended_run_stands_as_it_ended_and_takes_no_order(site: Site, run: int) -> None:
    site.order(run, "end", reason="rain")
    site.clock.at_s = 600
    page = site.page(lead(run, "put off gate"))
    assert [each for each in forms(page) if each["method"] == "post"] == []
    assert "Can't be tried. The run ended at 00:00:00" in words(part(page, "what_if"))
    assert "Best together" not in page
    assert figure(page, "forecast-age") == "0s"


def test_a_put_off_set_is_one_event_and_is_put_back_whole(site: Site, run: int) -> None:
    for do, kind, count in (("put-off-set", "TasksPutOff", 1), ("put-back-set", "TaskPutBack", 3)):
        before = len(kinds(site, run))
        answer = site.post(f"/api/runs/{run}/orders", json={"do": do, "tasks": list(ALL), "reason": "rain"})
        assert answer.status_code == 200, answer.text
        assert kinds(site, run)[before:] == [kind] * count
    assert site.json(f"/api/runs/{run}")["put_off"] == []
