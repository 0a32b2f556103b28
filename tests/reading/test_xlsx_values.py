"""What a number in a workbook is read as, by the format of its cell."""

import pytest

from app.reading.xlsx_values import Kind, NotRead, escaped, kind_of_format, number_text, unescaped

FORMATS = [
    (0, None, Kind.NUMBER), (1, None, Kind.NUMBER), (2, None, Kind.NUMBER), (49, None, Kind.NUMBER),
    (9, None, Kind.PER_CENT), (10, None, Kind.PER_CENT), (14, None, Kind.DATE), (22, None, Kind.DATE),
    (18, None, Kind.TIME_OF_DAY), (20, None, Kind.ELAPSED), (21, None, Kind.ELAPSED), (45, None, Kind.ELAPSED),
    (46, None, Kind.OVER_A_DAY), (31, None, Kind.DATE), (164, "[h]:mm", Kind.OVER_A_DAY),
    (164, "[mm]", Kind.OVER_A_DAY),
    (164, "[$-F400]h:mm:ss\\ AM/PM", Kind.TIME_OF_DAY), (164, "hh:mm;@", Kind.ELAPSED), (164, "mmm", Kind.DATE),
    (164, "yyyy-mm-dd hh:mm", Kind.DATE), (164, '0.0" days"', Kind.NUMBER), (164, "[Red]0.00", Kind.NUMBER),
    (164, "General", Kind.NUMBER), (164, '0" %"', Kind.NUMBER), (164, "0.0%", Kind.PER_CENT), (164, "@", Kind.NUMBER),
    (9999, None, Kind.NUMBER),
]  # fmt: skip


@pytest.mark.parametrize(("number", "code", "kind"), FORMATS)
def test_a_format_says_what_a_number_means(number: int, code: str | None, kind: Kind) -> None:
    assert kind_of_format(number, code) is kind


READ = [
    ("8", Kind.NUMBER, "8"), ("8.0", Kind.NUMBER, "8"), ("0.80000000000000004", Kind.NUMBER, "0.8"),
    ("0.30000000000000004", Kind.NUMBER, "0.3"), ("1E-3", Kind.NUMBER, "0.001"), ("-5", Kind.NUMBER, "-5"),
    ("63.81189495870552", Kind.NUMBER, "63.81189495870552"), ("100", Kind.NUMBER, "100"), ("0", Kind.NUMBER, "0"),
    ("7.2916666666666671E-2", Kind.ELAPSED, "1:45"), ("0.20138888888888887", Kind.ELAPSED, "4:50"),
    ("7.2939814814814818E-2", Kind.ELAPSED, "1:45:02"), ("0", Kind.ELAPSED, "0:00"),
    ("1.1041666666666667", Kind.OVER_A_DAY, "26:30"),
]  # fmt: skip


@pytest.mark.parametrize(("said", "kind", "text"), READ)
def test_a_number_reads_as_a_planner_would_type_it(said: str, kind: Kind, text: str) -> None:
    assert number_text(said, kind) == text


REFUSED = [
    ("45000", Kind.DATE, "a date"), ("0.5", Kind.TIME_OF_DAY, "a time of day"), ("0.12", Kind.PER_CENT, "a percentage"),
    ("1.5", Kind.ELAPSED, "more than a day"), ("0.50001", Kind.ELAPSED, "whole seconds"),
    ("-0.5", Kind.ELAPSED, "no elapsed time"), ("9e99", Kind.OVER_A_DAY, "no elapsed time"),
    ("١", Kind.NUMBER, "number"),
    ("nan", Kind.NUMBER, "no number"), ("inf", Kind.NUMBER, "no number"), ("1" * 400, Kind.NUMBER, "no number"),
]  # fmt: skip


@pytest.mark.parametrize(("said", "kind", "what"), REFUSED)
def test_a_number_that_may_mean_something_else_is_refused(said: str, kind: Kind, what: str) -> None:
    with pytest.raises(NotRead) as refused:
        number_text(said, kind)
    assert what in refused.value.what
    assert refused.value.remedy


def test_texts_are_escaped_as_the_standard_says() -> None:
    """ECMA-376-1, 22.9.2.19 (ST_Xstring): a sign as _xHHHH_, and an underscore that would begin one as _x005F_."""
    assert escaped("a\rb _x000D_ _x") == "a_x000D_b _x005F_x000D_ _x"
    assert unescaped(escaped("a\rb _x000D_ _x005F_ _x00e9_")) == "a\rb _x000D_ _x005F_ _x00e9_"
