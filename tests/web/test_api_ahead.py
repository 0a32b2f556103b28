"""The JSON API of what is ahead and of what would be if: the core's reports, in a fixed form, now and as they stood."""

from typing import Any

import httpx
import pytest

from app.core.foresight import outlook_report, tried_report
from app.core.outlook import compared
from app.core.what_if import what_if
from app.service import outlooks
from app.service.far import draw
from tests.service.making import SAMPLES
from tests.web.site import Site
from tests.web.yard import YARD, ahead_of, kinds

SPREAD = {"ten_in_a_hundred_by_s", "half_by_s", "nine_in_ten_by_s", "chance"}
FORECAST = {"draws", "team", "crew", "windows"}
WINDOW = {"window", "task", "opens_s", "closes_s", "chance"}
OPTION = {
    "tasks", "along", "worth_lost", "wins_s", "finish_s", "lead_s", "room_s", "chance", "meets_plan", "meets_limit",
    "exact",
}  # fmt: skip
LINK = {"step", "who", "start_s", "finish_s", "because", "gain_s"}
STANDING = {"lead_s", "projected_finish_s", "room_s", "crew", "forecast"}


@pytest.fixture
def run(site: Site, monkeypatch: pytest.MonkeyPatch) -> int:
    """A run whose every look ahead is fresh, however fast the test asks."""
    monkeypatch.setattr(outlooks, "REST", 0)
    return site.start(YARD)


def ask(site: Site, run: int | str, *said: str, at: str = "") -> httpx.Response:
    asked = [("at", at)] * bool(at) + [("if", text) for text in said]
    return site.request("GET", f"/api/runs/{run}/what-if", params=asked)


def forecast_keys(found: dict[str, Any]) -> None:
    assert set(found) == FORECAST
    assert set(found["team"]) == SPREAD
    assert all(set(each) == SPREAD for each in found["crew"].values())
    assert all(set(each) == WINDOW for each in found["windows"])


@pytest.mark.parametrize("at_s", [0, 25 * 60, 45 * 60])
def test_the_outlook_is_the_cores_report(site: Site, run: int, at_s: int) -> None:
    site.clock.at_s = at_s
    assert site.json(f"/api/runs/{run}/outlook") == outlook_report(ahead_of(site, run))


def test_the_outlook_has_the_fixed_form(site: Site, run: int) -> None:
    found = site.json(f"/api/runs/{run}/outlook")
    assert set(found) == {"at_s", "seq", "forecast", "putting_off", "best_set", "critical_chain"}
    forecast_keys(found["forecast"])
    assert set(found["putting_off"]) == {"exact", "of", "options"}
    assert [set(each) for each in found["putting_off"]["options"]] == [OPTION] * 3
    assert set(found["best_set"]) == {"tasks", "lead_after_s", "finish_after_s", "chance", "exact"}
    assert [set(each) for each in found["critical_chain"]] == [LINK] * 4
    assert (found["at_s"], found["seq"], found["forecast"]["draws"]) == (0, 1, 10_000)


def test_the_outlook_of_a_past_moment_is_what_stood_then(site: Site, run: int) -> None:
    then = site.json(f"/api/runs/{run}/outlook")
    site.clock.at_s = 25 * 60
    site.done(run, "dig/1")
    site.order(run, "put-off", task="gate", reason="rain")
    for at in ("0:00", "0", "-25 min"):
        assert site.request("GET", f"/api/runs/{run}/outlook", params={"at": at}).json() == then
    now = site.json(f"/api/runs/{run}/outlook")
    assert (now["at_s"], now["seq"]) == (25 * 60, 3)
    assert now["forecast"] != then["forecast"]
    assert outlook_report(ahead_of(site, run, 24 * 60)) == site.json(f"/api/runs/{run}/outlook?at=0:24:00")


def test_trying_is_the_cores_report(site: Site, run: int) -> None:
    said = ["EV1 loses 5 min", "put off gate"]
    site.clock.at_s = 60
    situation = site.shell.service.situation(run)
    assert ask(site, run, *said).json() == tried_report(compared(situation, what_if(situation, said), draw))
    assert kinds(site, run) == ["RunStarted"]


def test_trying_has_the_fixed_form(site: Site, run: int) -> None:
    found = ask(site, run, "  EV1   loses 5 min ", "put off gate").json()
    assert set(found) == {"changes", "present", "then"}
    assert found["changes"] == [
        {"said": "EV1 loses 5 min", "would_log": "Takes 25m, plan 20m: “Dig” (dig/1)."},
        {"said": "put off gate", "would_log": "Put off: “Hang the gate”."},
    ]
    for side in (found["present"], found["then"]):
        assert set(side) == STANDING
        assert all(set(each) == {"lead_s", "next"} for each in side["crew"].values())
        forecast_keys(side["forecast"])
    outlook = site.json(f"/api/runs/{run}/outlook")
    assert found["present"]["forecast"] == outlook["forecast"]


def test_trying_at_a_past_moment_is_tried_on_what_stood_then(site: Site, run: int) -> None:
    then = ask(site, run, "put off gate").json()
    site.clock.at_s = 25 * 60
    site.order(run, "put-off", task="gate", reason="rain")
    assert ask(site, run, "put off gate").status_code == 409
    assert ask(site, run, "put off gate", at="0:00:00").json() == then


def test_it_is_null_where_there_is_nothing_to_say(site: Site) -> None:
    run = site.start(YARD.replace(b"finish: 0:52, ", b""))
    found = ask(site, run, "put off gate").json()
    assert (found["present"]["room_s"], found["then"]["forecast"]["team"]["chance"]) == (None, None)
    for step in ("dig", "fence", "gate", "saw", "paint", "home"):
        site.done(run, f"{step}/1")
    outlook = site.json(f"/api/runs/{run}/outlook")
    assert (outlook["forecast"], outlook["putting_off"]["options"], outlook["critical_chain"]) == (None, [], [])
    assert ask(site, run, "take rake").status_code == 409


@pytest.mark.parametrize(("said", "status", "code", "words"), [
    (("blah",), 422, "not-understood", "“blah” is no change that can be tried"),
    ((" ",), 422, "not-understood", "no change that can be tried"),
    (("EV9 loses 5 min",), 422, "unknown", "There is no person “EV9”"),
    (("put off nothing",), 422, "unknown", "There is no task “nothing”"),
    (("dug/1 takes 5 min",), 422, "unknown", "There is no step “dug/1”"),
    (("EV1 loses 5",), 422, "bad-time", "does not say its unit"),
    (("x" * 201,), 422, "too-long", "200 characters at most"),
    (("put off dig",), 409, "must-be-done", "may not be put off"),
    (("put off gate", "put off gate"), 409, "put-off", "was put off already"),
    (("put back gate",), 409, "not-put-off", "was not put off"),
    (("give back rake",), 409, "not-taken", "was not taken"),
])  # fmt: skip
def test_a_change_that_cannot_be_tried_is_a_problem_with_its_code(
    site: Site, run: int, said: tuple[str, ...], status: int, code: str, words: str
) -> None:
    answer = ask(site, run, *said)
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["code"] == code
    assert answer.json()["status"] == status
    assert words in answer.json()["detail"]


@pytest.mark.parametrize("count", [0, 11])
def test_none_and_eleven_changes_are_refused(site: Site, run: int, count: int) -> None:
    answer = ask(site, run, *["saw/1 takes 26 min"] * count)
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    assert "if" in answer.json()["detail"]


def test_ten_changes_of_two_hundred_characters_are_not_too_many(site: Site, run: int) -> None:
    said = ["saw/1 takes" + " " * 100 + "26 min", *[f"saw/1 takes {minutes} min" for minutes in range(27, 36)]]
    assert len(ask(site, run, *said).json()["changes"]) == 10
    assert ask(site, run, "put off " + "x" * 192).json()["code"] == "unknown"


@pytest.mark.parametrize("what", ["outlook", "what-if"])
@pytest.mark.parametrize(("named", "at", "status"), [
    ("99", "", 404), ("mast", "", 404), ("-1", "", 404), ("9" * 30, "", 404),
    ("RUN", "9:00", 404), ("RUN", "noon", 422), ("RUN", "-2", 422), ("RUN", "0" * 21, 422),
])  # fmt: skip
def test_a_run_or_moment_that_is_not_there_is_a_problem(
    site: Site, run: int, what: str, named: str, at: str, status: int
) -> None:
    asked = {"at": at} if at else {}
    address = f"/api/runs/{named.replace('RUN', str(run))}/{what}"
    answer = site.request("GET", address, params={**asked, "if": "put off gate"})
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["status"] == status


def test_what_is_answered_fits_what_is_described(site: Site, run: int) -> None:
    schemas = site.json("/api/openapi.json")["components"]["schemas"]
    outlook = site.json(f"/api/runs/{run}/outlook")
    answers = {
        "OutlookOut": outlook,
        "ForecastOut": outlook["forecast"],
        "SpreadOut": outlook["forecast"]["team"],
        "WindowOut": outlook["forecast"]["windows"][0],
        "PuttingOffOut": outlook["putting_off"],
        "OptionOut": outlook["putting_off"]["options"][0],
        "BestSetOut": outlook["best_set"],
        "LinkOut": outlook["critical_chain"][0],
        "TriedOut": (tried := ask(site, run, "put off gate").json()),
        "StandingOut": tried["then"],
        "ChangeOut": tried["changes"][0],
    }
    for name, said in answers.items():
        assert set(said) == set(schemas[name]["properties"]), name


def test_the_sample_under_way_says_the_same_to_the_api_and_the_core(site: Site) -> None:
    run = site.start((SAMPLES / "pump-changeout.yaml").read_bytes())
    site.clock.at_s = 700
    site.done(run, "go-out/1")
    assert site.json(f"/api/runs/{run}/outlook") == outlook_report(ahead_of(site, run))
    said = ["EV2 loses 15 min", "put off photo-survey", "fasten/1 takes 40 min", "swap plug and watch of EV1"]
    refused = ask(site, run, *said)
    assert (refused.status_code, refused.json()["code"]) == (409, "circle"), refused.text
    situation = site.shell.service.situation(run)
    assert ask(site, run, *said[:3]).json() == tried_report(compared(situation, what_if(situation, said[:3]), draw))
