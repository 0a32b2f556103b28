"""What a station kept and sends on return, through the form's route: JSON back, no second effect, no other run's."""

import pytest

from app.core.commands import Refusal
from app.core.decide import HEARD
from app.service.values import identity
from app.store.faults import StoreFailed, StoreFull
from app.web.access import TOKEN_HEADER
from app.web.errors import PROBLEM_JSON
from app.web.keys import new_key
from app.web.orders import _ORDERS, KEPT, command_of
from app.web.said import Said
from tests.web.accounts import NAMES, with_people
from tests.web.site import Site

JSON = {"Accept": "application/json"}


def form(site: Site, run: int, do: str = "mark", **fields: str) -> dict[str, str]:
    """As the station sends it: all fields of the form, and of which run they were."""
    made = {
        "do": do,
        "page": "desk",
        "from": "band-1",
        "key": new_key(),
        "of": identity(site.shell.service.run(run).state),
    }
    return made | fields


def times(site: Site, run: int) -> list[tuple[int, int]]:
    """Of each event: when it happened and when it was logged."""
    return [(each["at_s"], each["logged_s"]) for each in site.json(f"/api/runs/{run}/events")]


def test_a_kept_mark_is_answered_with_its_seq_and_stands_at_the_time_of_its_press(site: Site) -> None:
    run = site.start()
    site.clock.at_s = 3_900
    answer = site.post(f"/runs/{run}/orders", data=form(site, run, step="rig/1", pressed="300"), headers=JSON)
    assert (answer.status_code, answer.headers["content-type"]) == (200, "application/json")
    assert answer.json() == {"seq": 2, "repeated": False}
    assert times(site, run) == [(0, 0), (300, 3_900)]


def test_what_a_page_sent_first_and_its_station_sends_again_is_one_mark(site: Site) -> None:
    """The page's own try had neither `pressed` nor `of`, and its answer was lost."""
    run = site.start()
    site.clock.at_s = 300
    sent = form(site, run, step="rig/1")
    first = {name: text for name, text in sent.items() if name != "of"}
    assert site.post(f"/runs/{run}/orders", data=first, headers={"HX-Request": "true"}).status_code == 200
    site.clock.at_s = 3_900
    for _ in range(2):
        answer = site.post(f"/runs/{run}/orders", data=sent | {"pressed": "299"}, headers=JSON)
        assert answer.json() == {"seq": 2, "repeated": True}
    assert times(site, run) == [(0, 0), (300, 300)]


@pytest.mark.parametrize("pressed", ["abc", "1.5", "-5", "1e9", "9" * 400, "٣٠٠", "300 ", "0x10", "\u0000"])
def test_a_press_time_that_is_no_whole_number_is_refused_and_not_taken_for_zero(site: Site, pressed: str) -> None:
    run = site.start()
    site.clock.at_s = 3_900
    answer = site.post(f"/runs/{run}/orders", data=form(site, run, step="rig/1", pressed=pressed), headers=JSON)
    assert (answer.status_code, answer.headers["content-type"]) == (422, PROBLEM_JSON)
    assert times(site, run) == [(0, 0)]


def test_a_refusal_comes_back_as_a_problem_with_its_sentence(site: Site) -> None:
    run = site.start()
    site.clock.at_s = 3_900
    answer = site.post(f"/runs/{run}/orders", data=form(site, run, step="rig/2", pressed="300"), headers=JSON)
    assert (answer.status_code, answer.headers["content-type"]) == (409, PROBLEM_JSON)
    said = answer.json()
    assert said["status"] == 409
    assert said["code"] == "open-prerequisite"
    assert "“Raise the mast” (rig/2) must wait" in said["detail"]


@pytest.mark.parametrize(
    ("fields", "status", "code"),
    [
        ({"step": "rig/1", "pressed": "4000"}, 409, "future"),
        ({"step": "rig/1", "pressed": "300", "at": "0:50:00"}, 409, "future"),
        ({"step": "rig/1", "pressed": "300", "at": "half past"}, 422, "bad-time"),
        ({"step": "no/1", "pressed": "300"}, 422, "unknown"),
        ({"step": "rig/1", "key": "no uuid"}, 422, "bad-key"),
        ({"do": "dance", "pressed": "300"}, 422, "unknown"),
    ],
)
def test_what_can_not_be_is_a_problem_too(site: Site, fields: dict[str, str], status: int, code: str) -> None:
    run = site.start()
    site.clock.at_s = 3_900
    answer = site.post(f"/runs/{run}/orders", data=form(site, run) | fields, headers=JSON)
    assert (answer.status_code, answer.headers["content-type"]) == (status, PROBLEM_JSON)
    assert answer.json()["code"] == code
    assert times(site, run) == [(0, 0)]


def test_what_was_kept_for_another_run_of_that_number_is_not_entered_into_this_one(site: Site) -> None:
    """The data folder was exchanged while the station was away: run 1 is another one now."""
    run, other = site.start(), None
    site.clock.at_s = 60
    other = site.start()
    site.clock.at_s = 3_900
    kept = form(site, run, step="rig/1", pressed="300")
    answer = site.post(f"/runs/{other}/orders", data=kept, headers=JSON)
    assert (answer.status_code, answer.json()["code"]) == (409, "other-run")
    without = {name: text for name, text in kept.items() if name != "of"}
    assert site.post(f"/runs/{run}/orders", data=without, headers=JSON).status_code == 409
    assert site.post("/runs/99/orders", data=kept, headers=JSON).status_code == 404
    assert len(times(site, run)) == len(times(site, other)) == 1


@pytest.mark.parametrize("headers", [{}, {"HX-Request": "true"}], ids=["form", "htmx"])
def test_a_press_of_a_page_of_another_run_of_that_number_is_refused(site: Site, headers: dict[str, str]) -> None:
    run = site.start()
    site.clock.at_s = 60
    other = site.start()
    pressed = form(site, run, step="rig/1")
    answer = site.post(f"/runs/{other}/orders", data=pressed, headers=headers)
    assert answer.status_code == 409
    assert "another run that was called 2" in answer.text
    assert len(times(site, other)) == 1
    assert site.post(f"/runs/{run}/orders", data=pressed, headers=headers).status_code < 400
    assert len(times(site, run)) == 2


def test_a_press_of_a_page_stands_at_the_time_at_which_it_was_pressed(site: Site) -> None:
    """It may have hung on the way, or at the server: the page says when it was."""
    run = site.start()
    site.clock.at_s = 340
    pressed = form(site, run, step="rig/1", pressed="300")
    assert site.post(f"/runs/{run}/orders", data=pressed, headers={"HX-Request": "true"}).status_code == 200
    assert times(site, run)[-1] == (300, 340)


@pytest.mark.parametrize("number", ["x", "0", "-1", "9" * 30])
def test_a_run_that_can_not_be_is_a_problem_too(site: Site, number: str) -> None:
    run = site.start()
    answer = site.post(f"/runs/{number}/orders", data=form(site, run, step="rig/1"), headers=JSON)
    assert (answer.status_code, answer.headers["content-type"]) == (404, PROBLEM_JSON)


@pytest.mark.parametrize(("fault", "status"), [(StoreFull("No room."), 507), (StoreFailed("Broken."), 503)])
def test_a_store_that_fails_says_so_as_a_problem(
    site: Site, monkeypatch: pytest.MonkeyPatch, fault: StoreFailed, status: int
) -> None:
    run = site.start()

    def failing(*_: object, **__: object) -> object:
        raise fault

    monkeypatch.setattr(type(site.shell.service), "order", failing)
    answer = site.post(f"/runs/{run}/orders", data=form(site, run, step="rig/1"), headers=JSON)
    assert (answer.status_code, answer.headers["content-type"]) == (status, PROBLEM_JSON)
    assert answer.json()["detail"] == str(fault)


def test_a_form_without_script_is_answered_as_ever(site: Site) -> None:
    """A browser says of its own accord that it takes anything."""
    run = site.start()
    site.clock.at_s = 300
    takes = {"Accept": "text/html,application/xhtml+xml,application/json;q=0.9,*/*;q=0.8"}
    answer = site.post(f"/runs/{run}/orders", data=form(site, run, step="rig/1"), headers=takes)
    assert (answer.status_code, answer.headers["location"]) == (303, f"/runs/{run}/desk")
    assert times(site, run)[-1] == (300, 300)


def test_whoever_may_not_is_told_so_and_whoever_is_not_signed_in_too(site: Site) -> None:
    run = site.start()
    browsers = with_people(site)
    kept = form(site, run, step="rig/1", pressed="0")
    for right, status, code in (("", 401, "signed-out"), ("watch", 403, "not-allowed")):
        answer = browsers[right].post(f"/runs/{run}/orders", data=kept, headers=JSON)
        assert (answer.status_code, answer.headers["content-type"]) == (status, PROBLEM_JSON)
        assert answer.json()["code"] == code
    answer = browsers["mark"].post(f"/runs/{run}/orders", data=kept, headers=JSON)
    assert answer.json() == {"seq": 2, "repeated": False}
    assert site.shell.service.run(run).log[-1].by == NAMES["mark"]
    lead_only = form(site, run, "not-needed", step="rig/2", reason="rain", pressed="0")
    assert browsers["mark"].post(f"/runs/{run}/orders", data=lead_only, headers=JSON).json()["code"] == "not-allowed"


def test_an_old_token_is_told_from_a_missing_right(site: Site) -> None:
    """The station asks for its token anew and sends once more; a refusal of rights it puts before the person."""
    run = site.start()
    browser = with_people(site)["mark"]
    headers = JSON | {TOKEN_HEADER: "of another session"}
    answer = browser.post(f"/runs/{run}/orders", data=form(site, run, step="rig/1"), headers=headers)
    assert (answer.status_code, answer.headers["content-type"]) == (403, PROBLEM_JSON)
    assert "code" not in answer.json()
    assert len(site.shell.service.run(run).log) == 1


SAID = Said(
    *("x", "x", "x", "x", "8 min", ("x",), "x", "x"),
    who=("x",),
    changes=("x",),
    poll="x",
    round="x",
    supply="x",
    value=1.0,
    tool="x",
    how="x",
    to="x",
    number=1,
    flag=1,
    entry=1,
    what="x",
    inject="x",
)
"""Everything that any order needs."""


def test_a_station_keeps_what_may_be_entered_late_and_nothing_else() -> None:
    """But corrections: they are made to what the log has, which a station without a link does not know."""
    late = {do for do in _ORDERS if isinstance(command_of(do, SAID), HEARD)} | {"mark"}
    assert set(KEPT) == late - {"correct"}
    with pytest.raises(Refusal):
        command_of("mark", Said())


@pytest.mark.parametrize("page", ["desk", "lead", "list/EV1", "log", "handover", "plan"])
def test_a_page_names_the_orders_that_it_keeps_and_the_run_that_it_is_of(site: Site, page: str) -> None:
    run = site.start()
    shown = site.page(f"/runs/{run}/{page}")
    assert f'data-keeps="{" ".join(KEPT)}"' in shown
    assert f'data-of="{identity(site.shell.service.run(run).state)}"' in shown
    site.clock.at_s = 600
    if page in ("desk", "lead", "list/EV1"):
        assert "data-keeps" not in site.page(f"/runs/{run}/{page}?at=0:05:00"), "the past can't be marked"
