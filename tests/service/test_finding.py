"""Runs are found by what was asked for and nothing else, and no log is folded to find them."""

import pytest

from app.core.commands import AddNote, Refusal
from app.service.finding import Asked, choices, find_runs
from app.service.runs import Service
from app.service.values import Sender
from app.web.keys import new_key
from tests.service.making import SMALL, SetClock, sender, small_run

DAY_S = 86_400
OTHER = SMALL.replace(b"procedure: mast", b"procedure: lamp").replace(b"EV2", b"IV").replace(b"Mast work", b"Lamp work")


@pytest.fixture
def five(service: Service, clock: SetClock) -> Service:
    """Runs 1 to 5, one a day from 2031-05-04 07:00 on: 1 and 2 of mast, 3 to 5 of lamp; 2 and 4 live."""
    for number in range(1, 6):
        revision = service.shelf.load(SMALL if number < 3 else OTHER, "x.yaml").hash
        service.start_run(revision, "rehearsal" if number % 2 else "live", sender())
        clock.at_s += DAY_S
    service.order(3, AddNote("seen"), Sender("Ana Lead", "desk 1", new_key())).result()
    service.order(5, AddNote("seen"), Sender("Bo", "desk 1", new_key())).result()
    return service


def numbers(service: Service, **asked: str) -> list[int]:
    return [stored.run for stored in find_runs(service, Asked(**asked)).runs]


def test_without_a_question_all_are_found_the_newest_first(five: Service) -> None:
    assert numbers(five) == [5, 4, 3, 2, 1]


@pytest.mark.parametrize(("asked", "found"), [
    ({"procedure": "mast"}, [2, 1]), ({"procedure": "mas"}, []), ({"kind": "live"}, [4, 2]),
    ({"first": "2031-05-05"}, [5, 4, 3, 2]), ({"last": "2031-05-05"}, [2, 1]),
    ({"first": "2031-05-06", "last": "2031-05-06"}, [3]), ({"first": "2031-05-07", "last": "2031-05-06"}, []),
    ({"last": "9999-12-31"}, [5, 4, 3, 2, 1]), ({"person": "ana lead"}, [3]), ({"person": "  LEAD "}, [3]),
    ({"person": "ground"}, [5, 4, 3, 2, 1]), ({"person": "ev2"}, [2, 1]), ({"person": "IV"}, [5, 4, 3]),
    ({"person": "nobody"}, []), ({"person": "%"}, []), ({"person": "bo", "kind": "rehearsal"}, [5]),
    ({"procedure": "lamp", "kind": "live"}, [4]), ({"revision": "zz"}, []),
    ({"revision": "%"}, []), ({"revision": "_"}, []),
])  # fmt: skip
def test_what_is_asked_for_is_found(five: Service, asked: dict[str, str], found: list[int]) -> None:
    assert numbers(five, **asked) == found


def test_a_revision_is_found_by_the_beginning_of_its_hash(five: Service) -> None:
    name = five.run(1).stored.revision
    assert numbers(five, revision=name[:7]) == numbers(five, revision=name.upper()) == [2, 1]


@pytest.mark.parametrize(
    "asked", [{"kind": "game"}, {"first": "yesterday"}, {"last": "2031-02-30"}, {"first": "20310504"}]
)
def test_what_can_t_be_read_is_refused_in_words(five: Service, asked: dict[str, str]) -> None:
    with pytest.raises(Refusal, match="“"):
        numbers(five, **asked)


def test_pages_hold_each_run_once_and_a_page_too_far_is_the_last(five: Service) -> None:
    pages = [find_runs(five, Asked(), page, most=2) for page in (1, 2, 3, 9)]
    assert [[stored.run for stored in page.runs] for page in pages] == [[5, 4], [3, 2], [1], [1]]
    assert {(page.number, page.pages) for page in pages} == {(5, 3)}
    assert [page.page for page in pages] == [1, 2, 3, 3]


def test_nothing_is_found_where_there_is_nothing(service: Service) -> None:
    found = find_runs(service, Asked(person="x"), 4)
    assert (found.runs, found.number, found.page, found.pages) == ((), 0, 1, 1)


def test_no_log_is_read_to_find_runs(five: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: object) -> None:
        raise AssertionError("a log was read")

    monkeypatch.setattr("app.service.live_run.journal.read", never)
    five._runs.clear()
    assert numbers(five, person="ana", procedure="lamp", kind="rehearsal", first="2031-01-01") == [3]


def test_who_signed_is_found_by_an_index(five: Service) -> None:
    said = "EXPLAIN QUERY PLAN SELECT run FROM event WHERE \"by\" IN ('Ana Lead')"
    plan = five.store.read(lambda conn: str(conn.exec_driver_sql(said).all()))
    assert "ix_event_by" in plan


def test_what_can_be_chosen_is_what_there_is(five: Service) -> None:
    small_run(five)
    found = choices(five)
    assert found.procedures == (("lamp", "Lamp work"), ("mast", "Mast work"))
    assert found.people == ("Ana Lead", "Bo", "EV1", "EV2", "Ground", "IV")
