"""Times that two readers take for two things: here each is one thing, the same on every machine, or refused."""

import time
from collections.abc import Iterator
from datetime import UTC, datetime

import pytest

from app.core.times import TimeFault, read_clock, read_instant
from app.reading.csv_file import read_csv
from app.reading.procedure_reader import read_procedure
from tests.reading.hostile_tables import SMALL
from tests.reading.hostile_yaml import with_keys
from tests.reading.workbooks import SMALL as ROWS
from tests.reading.workbooks import set_in, workbook


@pytest.mark.parametrize(
    ("said", "seconds"),
    [("1:30:00", 5400), ("01:30:00", 5400), ("'1:30:00'", 5400), ('"01:30:00"', 5400), ("1:30", 5400)],
)
def test_a_time_with_and_without_a_nought_or_quotes_is_the_same_time(said: str, seconds: int) -> None:
    """YAML 1.1 takes 1:30:00 for the number 5400 and 01:30:00 for a text; YAML 1.2 takes both for texts."""
    procedure = read_procedure(with_keys(f"not_before: {said}")).procedure
    assert procedure is not None
    assert procedure.steps[0].not_before_s == seconds


@pytest.mark.parametrize("said", ["1:30:00", "01:30:00"])
def test_a_table_reads_them_as_yaml_does(said: str) -> None:
    text = SMALL.replace("who,takes", "who,takes,not_before").replace("8 min", f"8 min,{said}")
    in_csv = read_csv(text).procedure
    assert in_csv is not None
    assert in_csv.steps[0].not_before_s == 5400


@pytest.mark.parametrize(
    "said", ["5400", "1.5", "-1:30", "1:30:00.5", "2026-02-30", "01:30 AM", "1:30:60", "24:00:00Z", "1h30"]
)
def test_what_only_another_reader_takes_for_an_elapsed_time_is_refused(said: str) -> None:
    (fault,) = [each for each in read_procedure(with_keys(f"not_before: '{said}'")).faults if not each.remark]
    assert fault.where == "line 5, column 25"
    assert "h:mm" in fault.remedy
    with pytest.raises(TimeFault):
        read_clock(said)


def test_a_time_of_day_or_a_date_of_a_workbook_is_refused_where_it_stands() -> None:
    from app.reading.xlsx_file import read_xlsx

    for value, shown in ((datetime(2026, 2, 28, 2, 30), "yyyy-mm-dd hh:mm"), (0.1, "h:mm AM/PM")):  # noqa: DTZ001 - so
        (fault,) = read_xlsx(workbook(set_in(ROWS, 5, 6, value), {"F5": shown})).faults
        assert fault.where == "Steps!F5"


@pytest.fixture(params=["Europe/Berlin", "America/St_Johns", "Pacific/Apia", "Antarctica/Troll"])
def elsewhere(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """This process in another time zone."""
    monkeypatch.setenv("TZ", request.param)
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.usefixtures("elsewhere")
@pytest.mark.parametrize("day", ["2026-03-29", "2026-10-25"], ids=["a gap", "a fold"])
def test_half_past_two_without_an_offset_is_utc_on_every_machine(day: str) -> None:
    """In Berlin that moment does not come in March, and comes twice in October."""
    wanted = datetime.fromisoformat(f"{day}T02:30:00+00:00")
    assert read_instant(f"{day}T02:30:00") == wanted
    assert read_instant(f"{day}T02:30:00Z") == wanted
    assert read_instant(f"{day}T02:30:00+02:00") != wanted


def test_the_leap_second_of_a_day_is_the_first_of_the_next() -> None:
    assert read_instant("2016-12-31T23:59:60Z") == datetime(2017, 1, 1, tzinfo=UTC)
    for said in ("2026-05-04T12:30:60Z", "2026-05-04T23:59:61Z", "2026-02-30T00:00:00Z", "2026-05-04T24:00:00Z"):
        with pytest.raises(TimeFault):
            read_instant(said)
