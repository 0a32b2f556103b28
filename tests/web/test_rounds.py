"""Rounds on the pages: when they are due, answered, refused, late, named."""

import html

import pytest

from app.web.live import _signature
from tests.web.gauges import FIELD, GLOVES, at, part
from tests.web.site import Site, words


@pytest.fixture
def run(site: Site) -> int:
    return site.start(FIELD)


def good(site: Site, run: int, person: str = "EV1", at: str = "", heard: str = "", reading__battery: str = "") -> None:
    sent = {"at": at, "heard": heard, "reading__battery": reading__battery}
    answer = site.order(run, "round-good", hx=False, round=GLOVES, person=person, **sent)
    assert answer.status_code == 303, words(answer.text)


def test_the_desk_has_one_quiet_line_until_a_round_is_near(site: Site, run: int) -> None:
    shown = part(site.page(f"/runs/{run}/desk"), "rounds")
    assert "Next round: <b>gloves</b>, EV1, due in 1h" in words(shown).replace(" ,", ",")
    assert "quiet-line" in shown
    at(site, "0:55:00")
    shown = part(site.page(f"/runs/{run}/desk"), "rounds")
    assert words(shown).count("due in 5m") == 2
    assert "quiet-line" not in shown


@pytest.mark.parametrize(
    ("clock", "said"), [("1:00:00", "DUE now"), ("1:02:30", "DUE, since 2m 30s"), ("1:20:00", "OVERDUE, due 20m ago")]
)
def test_due_and_overdue_are_said_in_words(site: Site, run: int, clock: str, said: str) -> None:
    at(site, clock)
    for page in ("desk", "lead", "list/EV2"):
        assert said in words(part(site.page(f"/runs/{run}/{page}"), "rounds"))


def test_names_and_questions_are_text(site: Site, run: int) -> None:
    shown = part(site.page(f"/runs/{run}/lead"), "rounds")
    assert "<b>gloves" not in shown
    assert "Any damage? {{7*7}}" in html.unescape(shown)


def test_a_list_shows_its_own_person_and_says_nothing_of_the_loop(site: Site, run: int) -> None:
    at(site, "1:00:00")
    shown = part(site.page(f"/runs/{run}/list/EV2"), "rounds")
    assert 'name="person" value="EV2"' in shown
    assert "EV1" not in shown
    assert 'name="heard"' not in shown
    assert 'name="heard" value="1"' in part(site.page(f"/runs/{run}/desk"), "rounds")


def test_an_answer_with_a_gauge_is_both_and_may_be_late(site: Site, run: int) -> None:
    at(site, "1:10:00")
    good(site, run, at="-9m", heard="1", reading__battery="81,5")
    kinds = [(each["kind"], each["at_s"]) for each in site.json(f"/api/runs/{run}/events")][1:]
    assert kinds == [("RoundAnswered", 3660), ("ReadingTaken", 3660)]
    told = words(site.page(f"/runs/{run}/log"))
    assert "Reading of battery, EV1: 81.5 % (heard on the loop)" in told
    assert "last 01:01:00, good" in words(part(site.page(f"/runs/{run}/lead"), "rounds"))


@pytest.mark.parametrize("typed", ["full", "8o", "1e999", "NaN", "٣", "-", "1 2"])
def test_what_is_no_number_is_refused_and_nothing_is_stored(site: Site, run: int, typed: str) -> None:
    answer = site.order(run, "round-good", round=GLOVES, person="EV1", reading__battery=typed)
    assert answer.status_code == 422
    assert f"not “{typed}”" in words(answer.text)
    assert len(site.json(f"/api/runs/{run}/events")) == 1


def test_bad_without_words_is_refused_and_with_them_is_a_flag_on_the_lead_board(site: Site, run: int) -> None:
    at(site, "1:00:00")
    refused = site.order(run, "round-bad", round=GLOVES, person="EV1")
    assert refused.status_code == 422
    assert "Say what is bad" in words(refused.text)
    assert site.order(run, "round-bad", round=GLOVES, person="EV1", reason="A cut").status_code == 303
    assert "A cut" in words(part(site.page(f"/runs/{run}/lead"), "flags"))
    (flag,) = site.json(f"/api/runs/{run}/watch")["flags"]
    assert site.order(run, "clear-flag", flag=str(flag["flag"]), reason="Taped").status_code == 303
    assert "A cut" not in words(part(site.page(f"/runs/{run}/lead"), "flags"))


def test_at_a_past_moment_nothing_is_answered(site: Site, run: int) -> None:
    at(site, "1:10:00")
    assert "<form" in part(site.page(f"/runs/{run}/desk"), "rounds")
    past = part(site.page(f"/runs/{run}/desk?at=0:58:00"), "rounds")
    assert "due in 2m" in words(past)
    assert "<form" not in past


def test_what_is_typed_stays_with_its_round_when_another_is_answered(site: Site, run: int) -> None:
    """The ids of the fields are those of the round and the person, whichever is due first."""
    at(site, "1:00:00")
    wanted = 'id="round-0-1"'
    before = part(site.page(f"/runs/{run}/desk"), "rounds")
    good(site, run)
    after = part(site.page(f"/runs/{run}/desk"), "rounds")
    assert before.index('id="round-0-0"') < before.index(wanted)
    assert after.index(wanted) < after.index('id="round-0-0"')


def test_someone_who_is_not_asked_is_refused_by_name(site: Site, run: int) -> None:
    refused = site.order(run, "round-good", round=GLOVES, person="ARM")
    assert refused.status_code == 409
    assert "is asked of EV1 and EV2" in words(refused.text)
    assert site.order(run, "round-good", round="boots", person="EV1").status_code == 422


def test_the_screens_fetch_the_part_anew_when_a_round_comes_near_is_due_and_overdue(site: Site, run: int) -> None:
    """Phases change though nothing happens, so the stream tells a new view of the page."""
    site.order(run, "round-good", round=GLOVES, person="EV2", at="0:00:00")

    def looks(clock: str) -> object:
        at(site, clock)
        return _signature(site.shell.service.situation(run))[-1]  # type: ignore[index] # a tuple; the phases come last

    told = [looks(clock) for clock in ("0:54:59", "0:55:00", "1:00:00", "1:05:01")]
    assert len(set(told)) == 4
