"""Options put off as a set, the best set taken as one: by forms and by JSON, whole or not at all."""

import pytest

from app.core.times import clock
from app.service import outlooks
from tests.web.site import Site, words
from tests.web.yard import ALL, YARD, ahead_of, figure, kinds, last, lead, part, press, sent_by


@pytest.fixture
def run(site: Site, monkeypatch: pytest.MonkeyPatch) -> int:
    """A run whose every look ahead is fresh, however fast the test asks."""
    monkeypatch.setattr(outlooks, "REST", 0)
    return site.start(YARD)


def test_an_options_button_puts_all_its_tasks_off_at_once_and_one_puts_them_back(site: Site, run: int) -> None:
    fields = sent_by(part(site.page(lead(run)), "put_off"), "put-off-set", 2)
    assert fields["tasks"] == list(ALL)
    answer = press(site, run, fields, reason="rain is coming")
    assert (answer.status_code, answer.headers["location"]) == (303, lead(run))
    assert kinds(site, run) == ["RunStarted", "TasksPutOff"]
    assert last(site, run) == {"tasks": list(ALL), "reason": "rain is coming"}
    page = site.page(lead(run))
    said = "Put off so far Set the fence, Hang the gate, Paint the shed · rain is coming"
    assert said in words(part(page, "put_off"))
    back = sent_by(part(page, "put_off"), "put-back-set")
    assert back["tasks"] == list(ALL)
    assert press(site, run, back, reason="it stays dry").status_code == 303
    assert kinds(site, run)[2:] == ["TaskPutBack"] * 3
    assert site.json(f"/api/runs/{run}")["put_off"] == []
    assert "Put off so far" not in words(site.page(lead(run)))


def test_what_was_put_off_in_two_presses_is_put_back_in_two(site: Site, run: int) -> None:
    for place in (0, 0):
        press(site, run, sent_by(part(site.page(lead(run)), "put_off"), "put-off-set", place), reason="rain")
    page = part(site.page(lead(run)), "put_off")
    assert [sent_by(page, "put-back-set", place)["tasks"] for place in (0, 1)] == [["paint"], ["gate"]]


def test_an_option_without_a_reason_is_refused_in_words(site: Site, run: int) -> None:
    answer = press(site, run, sent_by(part(site.page(lead(run)), "put_off"), "put-off-set", 1), reason=" ")
    assert answer.status_code == 422
    assert "Say why “Hang the gate” and “Paint the shed” are put off." in words(answer.text)
    assert kinds(site, run) == ["RunStarted"]


def test_an_option_that_another_station_took_is_refused_and_logged_once(site: Site, run: int) -> None:
    page = part(site.page(lead(run)), "put_off")
    mine, other = sent_by(page, "put-off-set"), sent_by(part(site.page(lead(run)), "put_off"), "put-off-set")
    assert press(site, run, other, reason="rain").status_code == 303
    answer = press(site, run, mine, reason="rain")
    assert answer.status_code == 409
    assert "“Hang the gate” was put off already." in words(answer.text)
    assert kinds(site, run) == ["RunStarted", "TasksPutOff"]


def test_an_option_of_which_a_part_is_off_already_is_refused_whole(site: Site, run: int) -> None:
    more = sent_by(part(site.page(lead(run)), "put_off"), "put-off-set", 1)
    site.order(run, "put-off", task="gate", reason="rain")
    assert press(site, run, more, reason="rain").status_code == 409
    assert site.json(f"/api/runs/{run}")["put_off"] == ["gate"]


def test_take_all_takes_the_best_set_to_the_places_shown(site: Site, run: int) -> None:
    page, best = site.page(lead(run)), ahead_of(site, run).best
    assert best is not None
    said = words(part(page, "offers"))
    assert press(site, run, sent_by(part(page, "offers"), "take-set")).status_code == 303
    taken = [each["body"] for each in site.json(f"/api/runs/{run}/events")[1:]]
    assert taken == [{"task": task, "places": [list(place) for place in places]} for task, places in best.work]
    assert "Rake the leaves: EV2 before “Paint the shed”" in said
    log = words(site.page(f"/runs/{run}/log"))
    assert "Taken: “Rake the leaves”, EV2 before “Paint the shed”" in log
    assert "Taken: “Stack the wood”, EV2 before “Rake the leaves”" in log
    assert figure(site.page(lead(run)), "finish") == clock(best.finish_after_s)


def test_take_all_is_refused_once_they_no_longer_fit_together(site: Site, run: int) -> None:
    fields = sent_by(part(site.page(lead(run)), "offers"), "take-set")
    site.order(run, "revise", step="saw/1", takes="27 min", reason="knots")
    answer = press(site, run, fields)
    assert answer.status_code == 409
    assert "these no longer fit together" in words(answer.text)
    assert kinds(site, run)[-1] == "TakesRevised"


def test_take_all_is_refused_when_another_station_took_one_of_them(site: Site, run: int) -> None:
    fields = sent_by(part(site.page(lead(run)), "offers"), "take-set")
    site.order(run, "take", task="rake")
    answer = press(site, run, fields)
    assert answer.status_code == 409
    assert "“Rake the leaves” was taken already." in words(answer.text)
    assert site.json(f"/api/runs/{run}")["taken"] == ["rake"]


def test_the_same_key_twice_takes_a_set_and_puts_a_set_off_once(site: Site, run: int) -> None:
    for name, do in (("offers", "take-set"), ("put_off", "put-off-set")):
        fields = sent_by(part(site.page(lead(run)), name), do)
        for _ in range(2):
            assert press(site, run, fields, reason="rain").status_code == 303
    assert kinds(site, run) == ["RunStarted", "WorkTaken", "WorkTaken", "TasksPutOff"]
