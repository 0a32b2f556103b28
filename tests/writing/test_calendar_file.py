"""The plan as iCalendar, RFC 5545: its own words on lines and texts, and the icalendar package as an outside reader."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import icalendar
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.commands import Refusal
from app.core.procedure import Procedure
from app.core.signs import shown
from app.core.situation import Prepared
from app.reading.procedure_reader import read_procedure
from app.settings import HOME
from app.writing.calendar_file import LONGEST_LINE, calendar, read_zero
from tests.core.building import procedure, step, task
from tests.service.recorded import HOSTILE
from tests.writing.full import full_procedures

ZERO = datetime(2031, 5, 4, 7, 0, tzinfo=UTC)
WRITTEN = datetime(2031, 5, 1, 12, 0, 5, 123_000, tzinfo=UTC)
REVISION = "ab" * 32


def made(of: Procedure, zero: datetime = ZERO) -> bytes:
    return calendar(Prepared(of), REVISION, zero, WRITTEN)


def read(data: bytes) -> Any:
    """The calendar as the package has it. A property may be of many types there, so they are not told apart here."""
    (found,) = icalendar.Calendar.from_ical(data, multiple=True)
    assert not found.errors
    return found


def events(data: bytes) -> list[Any]:
    return list(read(data).events)


@pytest.fixture(scope="module")
def sample() -> Procedure:
    found = read_procedure((HOME / "procedures" / "pump-changeout.yaml").read_bytes()).procedure
    assert found is not None
    return found


def test_an_outside_reader_finds_each_task_of_the_plan_at_its_time(sample: Procedure) -> None:
    prepared = Prepared(sample)
    spans = {}
    for each in sample.tasks:
        numbers = [prepared.network.index[step.id] for step in each.steps]
        if all(prepared.network.nominal[number] for number in numbers):
            times = [prepared.plan.times(number) for number in numbers]
            who = dict.fromkeys(person for step in each.steps for person in step.who)
            words = f"{each.title} ({', '.join(who)})" if who else each.title
            spans[words] = (min(start for start, _ in times), max(finish for _, finish in times))
    found = {str(each["SUMMARY"]): (each.start, each.end) for each in events(made(sample))}
    assert found == {words: tuple(ZERO + timedelta(seconds=each) for each in span) for words, span in spans.items()}
    assert len(found) > 10


def test_a_get_ahead_item_has_no_time_and_is_left_out() -> None:
    extra = replace(task("extra", [step(60, "Sweep")]), get_ahead=True)
    assert [str(each["SUMMARY"]) for each in events(made(procedure(task("a", [step(60)]), extra)))] == ["Task a"]


def test_who_does_it_stands_in_the_summary_and_among_the_categories(sample: Procedure) -> None:
    (found,) = (each for each in events(made(sample)) if str(each["SUMMARY"]).startswith("Go out"))
    assert str(found["SUMMARY"]).endswith("(EV1, EV2)")
    assert [str(each) for each in found["CATEGORIES"].cats] == ["EV1", "EV2"]


def test_the_same_plan_from_the_same_zero_has_the_same_uids_and_another_has_others(sample: Procedure) -> None:
    def uids(*of: bytes) -> list[str]:
        return [str(each["UID"]) for data in of for each in events(data)]

    once = made(sample)
    assert made(sample) == once
    assert len(set(uids(once))) == len(uids(once))
    later = made(sample, ZERO + timedelta(seconds=1))
    other = calendar(Prepared(sample), "cd" * 32, ZERO, WRITTEN)
    assert not set(uids(once)) & set(uids(later, other))


def test_each_event_has_what_the_standard_demands() -> None:
    """RFC 5545, 3.6.1: UID and DTSTAMP, and DTSTART where there is no METHOD; 3.6: PRODID and VERSION."""
    data = made(procedure(task("a", [step(60)])))
    (found,) = events(data)
    assert found["DTSTAMP"].dt == WRITTEN.replace(microsecond=0)
    assert {"UID", "DTSTAMP", "DTSTART", "DTEND"} <= set(found)
    whole = read(data)
    assert (str(whole["VERSION"]), str(whole["PRODID"])) == ("2.0", "-//Leadline//Plan//EN")


def lines(data: bytes) -> list[bytes]:
    assert data.endswith(b"\r\n")
    assert data.count(b"\r\n") == data.count(b"\n") == data.count(b"\r")
    return data.split(b"\r\n")


@given(full_procedures())
@settings(max_examples=15, deadline=None)
def test_any_procedure_is_read_back_with_its_titles(of: Procedure) -> None:
    data = made(of)
    for line in lines(data):
        assert len(line) <= LONGEST_LINE
        line.decode()
    prepared = Prepared(of)
    nominal = [
        each for each in of.tasks if any(prepared.network.nominal[prepared.network.index[s.id]] for s in each.steps)
    ]
    for each, found in zip(nominal, events(data), strict=True):
        assert str(found["SUMMARY"]).startswith(read_again(each.title))


def read_again(text: str) -> str:
    """Control signs can't stand in a file (RFC 5545, 3.1) and are blanks; an end of a line is one whatever it was."""
    return shown(text).replace("\r\n", "\n").replace("\r", "\n")


@given(st.text(max_size=300))
@settings(max_examples=150, deadline=None)
def test_any_text_comes_back_as_it_is_read(text: str) -> None:
    of = replace(procedure(task("a", [step(60)])), tasks=(replace(task("a", [step(60)]), title=f"x{text}", who=()),))
    data = made(of)
    assert all(len(line) <= LONGEST_LINE for line in lines(data))
    (found,) = events(data)
    assert str(found["SUMMARY"]) == read_again(f"x{text}")


def test_a_hostile_text_makes_no_line_of_its_own() -> None:
    for text in (HOSTILE, "a\r\nEND:VEVENT\r\nBEGIN:VALARM", "a\nATTACH:file", "x;ENCODING=BASE64:,\\"):
        data = made(procedure(replace(task("a", [step(60, text)]), title=text, where=text)))
        assert [line for line in lines(data) if line.startswith((b"ATTACH", b"BEGIN:VALARM"))] == []
        (found,) = events(data)
        assert str(found["LOCATION"]) == read_again(text)


@pytest.mark.parametrize(("said", "at"), [
    ("2027-03-01T14:00Z", datetime(2027, 3, 1, 14, tzinfo=UTC)),
    ("2027-03-01T14:00", datetime(2027, 3, 1, 14, tzinfo=UTC)),
    ("2027-03-01T14:00:30.9Z", datetime(2027, 3, 1, 14, 0, 30, tzinfo=UTC)),
    ("2027-03-01T14:00:00 01:00", datetime(2027, 3, 1, 13, tzinfo=UTC)),
    ("2027-060T14:00Z", datetime(2027, 3, 1, 14, tzinfo=UTC)),
])  # fmt: skip
def test_a_zero_is_read_as_an_instant_of_utc(said: str, at: datetime) -> None:
    """The fourth is what a plus sign becomes that was not escaped in an address."""
    assert read_zero(said) == at


@pytest.mark.parametrize("said", ["", "   ", "tomorrow", "2027-03-01", "2027-02-30T10:00Z", "14:00"])
def test_a_zero_that_is_none_is_refused_with_how_to_write_it(said: str) -> None:
    with pytest.raises(Refusal, match="2031-05-04T07:00:00Z"):
        read_zero(said)


def test_a_plan_beyond_the_last_date_is_refused() -> None:
    with pytest.raises(Refusal, match="beyond the year 9999"):
        made(procedure(task("a", [step(7200)])), datetime(9999, 12, 31, 23, 0, tzinfo=UTC))


def test_a_date_of_a_year_before_1000_has_four_digits() -> None:
    data = made(procedure(task("a", [step(60)])), datetime(31, 5, 4, tzinfo=UTC))
    assert b"DTSTART:00310504T000000Z" in data
