"""Marks from CSV: what is read, and at which place the rest is refused. A column is a character position."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.times import clock
from app.reading.marks import read_marks


def only(data: bytes | str) -> tuple[int, int, str]:
    reading = read_marks(data)
    assert reading.marks == ()
    (fault,) = reading.faults
    assert fault.remedy
    return fault.line, fault.column, fault.what


@pytest.mark.parametrize(
    "text",
    ["step,at\na/1,0:10\nb/2,1:05:30\n", "step,at\r\na/1,0:10\r\nb/2,1:05:30",
     "\ufeffstep,at\na/1,0:10\n\n\nb/2,1:05:30\n",
     "at,step\n0:10,a/1\n1:05:30,b/2\n", '"step","at"\n"a/1","0:10"\n b/2 , 1:05:30 \n'],
    ids=["plain", "CRLF, no last line end", "byte-order mark, blank lines", "other order", "quoted, blanks"],
)  # fmt: skip
def test_marks_are_read(text: str) -> None:
    reading = read_marks(text.encode())
    assert reading.faults == ()
    assert reading.marks == (("a/1", 600), ("b/2", 3930))


def test_a_header_alone_gives_no_marks_and_no_fault() -> None:
    assert read_marks("step,at\n").marks == ()
    assert read_marks("step,at\n").faults == ()


@pytest.mark.parametrize("data", [b"", b"\n\n", b"\xef\xbb\xbf"])
def test_an_empty_file_is_refused(data: bytes) -> None:
    assert only(data) == (1, 1, "the file has no header")


@pytest.mark.parametrize(
    ("header", "column", "what"),
    [("step,at,by", 9, "there is no column “by”"), ("step;at", 1, "there is no column “step;at”"),
     ("step", 1, "the column at is missing"), ("step,at,at", 9, "the column at is there twice"),
     ("Step,at", 1, "there is no column “Step”"), ("step,at,", 9, "there is no column “”")],
)  # fmt: skip
def test_a_wrong_header_is_refused_at_its_column(header: str, column: int, what: str) -> None:
    assert only(f"{header}\na/1,0:10\n") == (1, column, what)


def test_every_fault_of_a_file_comes_in_one_go() -> None:
    reading = read_marks("step,at\na/1,10\na,0:10\na/1\na/1,0:10,x\nb/0,1:60\n")
    assert reading.marks == ()
    assert [(fault.line, fault.column) for fault in reading.faults] == [(2, 5), (3, 1), (4, 1), (5, 10), (6, 1), (6, 5)]


def test_a_quote_that_is_never_closed_is_told_where_it_opens() -> None:
    assert only('step,at\na/1,0:10\n"b/1,0:20\nc/1,0:30\n') == (3, 1, "this quotation mark is never closed")


def test_a_quote_that_swallows_a_row_is_refused() -> None:
    line, column, what = only('step,at\na/1,"0:10\nb/1,0:20\nc/1",0:30\n')
    assert (line, column) == (2, 5)
    assert what == "a quoted field runs over the end of the line, and rows may be lost in it"


def test_the_lines_after_a_field_with_line_ends_are_still_counted_right() -> None:
    reading = read_marks('step,at\na/1,"0:10\nx"\nb/1,nonsense\n')
    assert len(reading.faults) == 2
    assert [(fault.line, fault.column) for fault in reading.faults] == [(2, 5), (4, 5)]


@pytest.mark.parametrize("field", ['"0:10"x', '0:"10', '0:10"'])
def test_a_stray_quote_is_refused(field: str) -> None:
    assert only(f"step,at\na/1,{field}\n")[:2] == (2, 5)


def test_a_field_of_200_kb_is_refused_and_not_repeated() -> None:
    line, column, what = only("step,at\na/1," + "9" * 200_000 + "\n")
    assert (line, column) == (2, 5)
    assert what == "a field of 200,000 characters; at most 200 are read"


def test_a_file_over_the_size_cap_is_refused() -> None:
    assert "512 KB" in only("step,at\n" + "a/1,0:10\n" * 60_000)[2]


def test_a_nul_is_refused_at_its_place() -> None:
    line, column, what = only("step,at\na/1,0:\x0010\n")
    assert (line, column) == (2, 7)
    assert "NUL" in what


@pytest.mark.parametrize("row", ["a/1,٠:١٠", "a/1,０:１０", "a/１,0:10", "a/1,0:1०"])
def test_digits_that_are_not_ascii_are_refused(row: str) -> None:
    assert only(f"step,at\n{row}\n")[0] == 2


def test_latin_1_and_utf_16_are_refused() -> None:
    assert only("step,at\né/1,0:10\n".encode("latin-1"))[:2] == (2, 1)
    assert only("step,at\n".encode("utf-16"))[2] == "the file is UTF-16, not UTF-8"


def test_a_formula_is_refused_as_a_step() -> None:
    assert only("step,at\n=1+1,0:10\n") == (2, 1, "“=1+1” is not a step")


@given(
    st.lists(st.tuples(st.sampled_from(["a/1", "shut-valves/12", "B.c_d/3"]), st.integers(0, 3_599_999)), max_size=20)
)
def test_marks_that_were_written_are_read_back(marks: list[tuple[str, int]]) -> None:
    text = "step,at\n" + "".join(f"{step},{clock(at)}\n" for step, at in marks)
    assert read_marks(text).marks == tuple(marks)


@given(
    st.binary(max_size=200) | st.text(max_size=200) | st.text('",\n\r/:a1step ', max_size=100).map("step,at\n".__add__)
)
def test_no_input_raises(data: bytes | str) -> None:
    reading = read_marks(data)
    assert not (reading.marks and reading.faults)
    assert all(fault.line >= 1 and fault.column >= 1 for fault in reading.faults)
