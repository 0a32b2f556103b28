"""What `times` reads and writes, against published values. Data and its sources: tests/data/time_formats.json."""

import json
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.times import (
    LONGEST_S,
    TimeFault,
    clock,
    clock_short,
    duration,
    instant,
    lead_words,
    read_clock,
    read_duration,
    read_instant,
)

FORMATS: dict[str, Any] = json.loads((Path(__file__).parent.parent / "data" / "time_formats.json").read_text("utf-8"))
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def test_rfc_3339_5_8_the_examples_name_the_instants_that_the_standard_gives() -> None:
    examples = dict(FORMATS["rfc3339"]["examples"])
    assert set(examples) == {
        "1985-04-12T23:20:50.52Z",
        "1996-12-19T16:39:57-08:00",
        "1990-12-31T23:59:60Z",
        "1990-12-31T15:59:60-08:00",
        "1937-01-01T12:00:27.87+00:20",
    }
    assert read_instant("1985-04-12T23:20:50.52Z") - EPOCH == timedelta(seconds=482_196_050, milliseconds=520)
    assert read_instant("1996-12-19T16:39:57-08:00") == read_instant("1996-12-20T00:39:57Z")
    assert read_instant("1937-01-01T12:00:27.87+00:20") - EPOCH == timedelta(seconds=-1_041_337_172, milliseconds=-130)


def test_rfc_3339_5_8_both_writings_of_the_leap_second_are_one_instant_at_the_end_of_1990() -> None:
    leap = read_instant("1990-12-31T23:59:60Z")
    assert leap == read_instant("1990-12-31T15:59:60-08:00")
    assert timedelta(0) <= datetime(1991, 1, 1, tzinfo=UTC) - leap <= timedelta(seconds=1)


def test_rfc_3339_5_7_a_60th_second_anywhere_but_the_end_of_a_utc_day_is_refused() -> None:
    with pytest.raises(TimeFault):
        read_instant("1990-12-31T12:00:60Z")


def test_ccsds_301_0_b_4_3_5_1_codes_a_and_b_name_one_instant() -> None:
    both = FORMATS["ccsds_301_ascii"]
    assert read_instant(both["A"]) == read_instant(both["B"])
    whole, rest = divmod(both["unix_ns"], 1_000_000_000)
    assert read_instant(both["A"]) - EPOCH == timedelta(seconds=whole, microseconds=rest // 1000)


def test_ccsds_301_0_b_4_3_5_1_3_a_subset_without_seconds_and_zone_is_utc() -> None:
    assert read_instant(FORMATS["ccsds_301_ascii"]["subset_example"]) == datetime(1988, 1, 18, 17, 20, tzinfo=UTC)


def test_day_366_is_the_31st_of_december_of_a_leap_year_and_refused_in_another() -> None:
    assert FORMATS["doy"][0] == ["2000-366", "2000-12-31"]
    assert read_instant("2000-366T00:00:00Z").date() == date(2000, 12, 31)
    assert FORMATS["doy"][1] == ["1900 not leap", 365]
    with pytest.raises(TimeFault):
        read_instant("1900-366T00:00:00Z")


def test_iers_bulletin_c52_the_leap_second_of_2016_is_read_in_day_of_year_form() -> None:
    assert FORMATS["doy"][2][0] == "2016-366T23:59:60Z"
    assert timedelta(0) <= datetime(2017, 1, 1, tzinfo=UTC) - read_instant("2016-366T23:59:60Z") <= timedelta(seconds=1)


def test_iso_8601_from_memory_an_ordinal_date_is_the_calendar_date_it_stands_for() -> None:
    assert ["1985-102", "=1985-04-12"] in FORMATS["iso8601_memory"]["examples"]
    assert read_instant("1985-102T00:00Z") == datetime(1985, 4, 12, tzinfo=UTC)


def test_iso_8601_from_memory_a_week_date_is_refused_since_no_instant_is_asked_for_that_way() -> None:
    with pytest.raises(TimeFault):
        read_instant("1985-W15-5T00:00Z")


@pytest.mark.parametrize(
    "text", ["2026-02-30T00:00Z", "2026-13-01T00:00Z", "2026-01-01T24:00Z", "2026-01-01", "٢٠٢٦-01-01T00:00Z", ""]
)
def test_an_instant_that_no_calendar_has_is_refused(text: str) -> None:
    with pytest.raises(TimeFault):
        read_instant(text)


def test_rfc_5545_3_3_6_the_weeks_example_is_read() -> None:
    # The file says 604800 s, which is one week; RFC 5545 3.3.6 and arithmetic say that seven weeks are 4,233,600 s.
    assert "P7W" in dict(FORMATS["rfc5545_duration"]["examples"])
    assert read_duration("P7W") == 7 * 604_800 == 4_233_600
    assert read_duration("P1W") == 604_800


def test_rfc_5545_3_3_6_the_example_with_days_hours_and_seconds_is_read() -> None:
    assert read_duration("P15DT5H0M20S") == dict(FORMATS["rfc5545_duration"]["examples"])["P15DT5H0M20S"] == 1_314_020


def test_iso_8601_from_memory_hours_and_minutes_are_read_and_years_and_months_refused() -> None:
    examples = dict(FORMATS["iso8601_memory"]["examples"])
    assert read_duration("PT6H30M") == examples["PT6H30M"]
    assert examples["P1Y2M10DT2H30M"] == "calendar dependent"
    for text in ("P1Y2M10DT2H30M", "P1M", "P1Y"):
        with pytest.raises(TimeFault):
            read_duration(text)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("8 min", 480), ("1 h 30 min", 5400), ("45 s", 45), ("PT8M", 480), ("0 s", 0), ("1h30m", 5400), ("90 min", 5400)],
)
def test_a_duration_says_its_units(text: str, seconds: int) -> None:
    assert read_duration(text) == seconds


@pytest.mark.parametrize(
    "text",
    [
        "8",
        "0",
        "",
        "min",
        "8 hours",
        "8 min 8 min",
        "8 min 1 h",
        "-8 min",
        "1.5 h",
        "٨ min",
        "８ min",
        "P",
        "PT",
        "PTM",
        "10000 h",
        "PT10000H",
        "NaN s",
        "1e3 s",
        "8 min.",
        "9" * 5000 + " s",
    ],
)
def test_a_duration_without_a_unit_or_out_of_order_is_refused_with_a_remedy(text: str) -> None:
    with pytest.raises(TimeFault) as caught:
        read_duration(text)
    assert caught.value.remedy
    assert len(str(caught.value)) < 120


@pytest.mark.parametrize(("text", "seconds"), [("0:00", 0), ("4:50", 17_400), ("1:05:30", 3930), ("123:00", 442_800)])
def test_an_elapsed_time_is_hours_and_minutes(text: str, seconds: int) -> None:
    assert read_clock(text) == seconds


@pytest.mark.parametrize(
    "text",
    ["", "5", "1:5", "1:60", "1:00:60", "-1:00", "10000:00", "1:00 pm", "٠:١٠", "1:00:00.5", "1:00:00:00", "1;00"],
)
def test_what_is_not_an_elapsed_time_is_refused_with_a_remedy(text: str) -> None:
    with pytest.raises(TimeFault) as caught:
        read_clock(text)
    assert caught.value.remedy


@given(st.integers(min_value=0, max_value=LONGEST_S - 1))
def test_a_clock_that_was_written_reads_as_the_same_time(seconds: int) -> None:
    assert read_clock(clock(seconds)) == seconds
    assert read_clock(clock_short(seconds)) == seconds // 60 * 60


@given(st.integers(min_value=0, max_value=LONGEST_S - 1))
def test_a_duration_that_was_written_reads_as_the_same_length(seconds: int) -> None:
    assert read_duration(duration(seconds)) == seconds


@given(st.integers(min_value=-LONGEST_S, max_value=LONGEST_S))
def test_a_lead_is_never_a_bare_sign(lead: int) -> None:
    words = lead_words(lead)
    assert not set(words) & set("+-−")
    assert words.endswith("ahead" if lead > 0 else "behind" if lead < 0 else "on plan")


@given(st.integers(min_value=0, max_value=LONGEST_S - 1))
def test_a_clock_and_a_duration_are_never_mistaken_for_each_other(seconds: int) -> None:
    with pytest.raises(TimeFault):
        read_duration(clock(seconds))
    with pytest.raises(TimeFault):
        read_clock(duration(seconds))


@given(
    st.datetimes(min_value=datetime(1971, 1, 1), max_value=datetime(2200, 1, 1)),  # noqa: DTZ001 - hypothesis asks for bounds without a zone
    st.integers(min_value=-14 * 60, max_value=14 * 60),
)
def test_an_instant_that_was_written_reads_as_the_same_millisecond(naive: datetime, offset: int) -> None:
    at = naive.replace(tzinfo=timezone(timedelta(minutes=offset)), microsecond=naive.microsecond // 1000 * 1000)
    assert read_instant(instant(at)) == at


def test_an_instant_without_a_zone_is_not_written() -> None:
    with pytest.raises(ValueError, match="zone"):
        instant(datetime(2031, 5, 4))  # noqa: DTZ001 - the missing zone is the point


@given(st.text(max_size=40))
def test_any_text_is_either_a_time_or_refused_in_words(text: str) -> None:
    for read in (read_clock, read_duration, read_instant):
        remedy = "none needed"
        try:
            read(text)
        except TimeFault as fault:
            remedy = fault.remedy
        assert remedy
