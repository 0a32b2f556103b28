"""No input makes a reader fail in a way of its own: each reads it, or refuses it as its docstring says.

What a reader takes must also be sound enough to plan, to keep as YAML and to read again.
"""

import json
import zipfile
from collections.abc import Callable
from functools import cache, partial
from io import BytesIO
from pathlib import Path
from typing import Any, TypeVar

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.report import plan_report
from app.core.situation import Prepared
from app.reading.columns import KINDS, NAMES
from app.reading.files import Kind, read_file
from app.reading.marks import read_marks
from app.reading.procedure_reader import TOP_KEYS, Reading, read_procedure
from app.reading.task_reader import STEP_KEYS, TASK_KEYS
from app.writing.files import NoTable, stored_text, written
from tests.reading.workbooks import SHEET, changed

SAMPLES = sorted((Path(__file__).parents[2] / "procedures").glob("*.yaml"))
KINDS_OF_FILE: tuple[Kind, ...] = ("yaml", "csv", "xlsx")
T = TypeVar("T")
E = TypeVar("E", bound=Exception)
few = settings(max_examples=40, deadline=None)
many = settings(max_examples=200, deadline=None)


def answer(call: Callable[[], T], *refusals: type[E]) -> T | E:
    """What the call answers, or with what it refuses."""
    try:
        return call()
    except refusals as refusal:
        return refusal


def holds(reading: Reading) -> None:
    """What is true of whatever a reader answers."""
    real = [fault for fault in reading.faults if not fault.remark]
    assert (reading.procedure is None) == bool(real)
    for fault in reading.faults:
        assert fault.what
        assert fault.remedy
        assert fault.line >= 1
        assert fault.column >= 1
        assert str(fault).isprintable()
        assert len(str(fault)) < 2_000


def keeps(data: bytes, kind: Kind, reading: Reading) -> None:
    """What was taken can be planned, kept and read again, and written as a table or refused for a reason."""
    if reading.procedure is None:
        return
    json.dumps(plan_report(Prepared(reading.procedure)), allow_nan=False)
    assert read_procedure(stored_text(data, kind, reading.procedure)).procedure == reading.procedure
    for table in ("csv", "xlsx"):
        made = answer(partial(written, reading.procedure, table), NoTable)
        if isinstance(made, bytes):
            assert read_file(made, kind=table).procedure == reading.procedure
        else:
            assert str(made)


@cache
def sample(name: str, kind: Kind) -> bytes:
    procedure = read_procedure(next(path for path in SAMPLES if path.name == name).read_bytes()).procedure
    assert procedure is not None
    return written(procedure, kind)


_NAMES = [path.name for path in SAMPLES]
_noise = st.one_of(
    st.binary(min_size=1, max_size=6),
    st.sampled_from([*"٣\u202e\u2028\ufeff=\"\n&", "a/1", "0:10", "1e999", "*a", "&a"]).map(str.encode),
)  # fmt: skip


def spoilt(data: st.DataObject, said: bytes, times: int = 3) -> bytes:
    """Bytes flipped, put in, taken out."""
    for _ in range(data.draw(st.integers(1, times))):
        at = data.draw(st.integers(0, len(said)))
        said = said[:at] + data.draw(_noise | st.just(b"")) + said[at + data.draw(st.integers(0, 5)) :]
    return said


@pytest.mark.parametrize("kind", KINDS_OF_FILE)
@given(
    st.binary(max_size=400), st.sampled_from([b"", b"PK\x03\x04", b"\xef\xbb\xbf", b"row,name\n", b"procedure: p\n"])
)
@many
def test_any_bytes_are_refused_in_words(kind: Kind, data: bytes, before: bytes) -> None:
    holds(read_file(before + data, kind=kind))
    assert read_marks(before + data).marks == ()


@pytest.mark.parametrize("kind", KINDS_OF_FILE)
@given(st.sampled_from(_NAMES), st.data())
@few
def test_a_spoilt_file_is_read_or_refused_in_words(kind: Kind, name: str, data: st.DataObject) -> None:
    said = spoilt(data, sample(name, kind))
    reading = read_file(said, kind=kind)
    holds(reading)
    keeps(said, kind, reading)


_CELLS = st.one_of(
    st.text(max_size=6),
    st.sampled_from([*KINDS, *NAMES, "EV1", "EV9", "8 min", "1:00", "a/1", "a + 5 min", "x [m] 1..2", "0:10..0:20",
                     "1 | 2", "true", "-1", "1e5", "'=1", "(nobody)", "#", "٣", "\u200b", "a;b", ";", '"', "\n"]),
)  # fmt: skip


@given(st.sampled_from(_NAMES), st.data())
@few
def test_a_table_with_other_cells_is_read_or_refused_in_words(name: str, data: st.DataObject) -> None:
    rows = [line.split(",") for line in sample(name, "csv").decode("utf-8-sig").split("\r\n")]
    for _ in range(data.draw(st.integers(1, 4))):
        row = data.draw(st.sampled_from(rows))
        row[data.draw(st.integers(0, len(row) - 1))] = data.draw(_CELLS)
    said = "\r\n".join(",".join(row) for row in rows).encode()
    reading = read_file(said, kind="csv")
    holds(reading)
    keeps(said, "csv", reading)


_XML = st.sampled_from([
    b"<", b">", b"&", b'"', b"</c>", b"<c>", b"<f/>", b"<v>", b"</v>", b"<row>", b"</row>", b"<is><t>x</t></is>",
    b"]]>", b"<!--", b"-->", b"&#0;", b"&#xD800;", b"&lt;", b'r="A1"', b't="s"', b't="b"', b't="e"', b't="d"', b's="1"',
    b's="99"', b"1e999", b"-1", b"_x0000_", b"\x00", b"\xff", "é".encode(), b"XFD1048576", b'xmlns="x"', b"../", b"/",
])  # fmt: skip


@given(st.sampled_from(_NAMES), st.data())
@few
def test_a_workbook_with_other_parts_is_read_or_refused_in_words(name: str, data: st.DataObject) -> None:
    book = sample(name, "xlsx")
    with zipfile.ZipFile(BytesIO(book)) as archive:
        part = data.draw(st.sampled_from([SHEET, SHEET, *archive.namelist()]))
        said = archive.read(part)
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, min(len(said), 3_000)))
        said = said[:at] + data.draw(_XML) + said[at + data.draw(st.integers(0, 8)) :]
    made = changed(book, lambda each, old: said if each == part else old)
    reading = read_file(made, kind="xlsx")
    holds(reading)
    keeps(made, "xlsx", reading)


scalars: st.SearchStrategy[Any] = st.one_of(
    st.none(), st.booleans(), st.integers(-5, 2_000), st.floats(allow_nan=False, width=16), st.text(max_size=8),
    st.sampled_from(["EV1", "EV2", "a", "b", "a/1", "b/2", "8 min", "1 h", "0:30", "1:05:30", "PT8M", "day", ""]),
)  # fmt: skip
_KEYS = sorted(
    {*TOP_KEYS, *TASK_KEYS, *STEP_KEYS, "task", "step", "wait", "go", "unit", "from", "to", "does", "EV1", "x"}
)
_trees: st.SearchStrategy[Any] = st.recursive(
    scalars,
    lambda inside: (
        st.lists(inside, max_size=4) | st.dictionaries(st.sampled_from(_KEYS) | st.text(max_size=4), inside, max_size=6)
    ),
    max_leaves=30,
)
_steps = st.fixed_dictionaries(
    {"do": st.text(max_size=5) | _trees, "takes": st.sampled_from(["8 min", "0 s"]) | _trees},
    optional={key: _trees for key in STEP_KEYS if key not in ("do", "takes")},
)
_tasks = st.fixed_dictionaries(
    {"task": st.sampled_from("abc") | _trees, "steps": st.lists(_steps, max_size=3) | _trees},
    optional={key: _trees for key in TASK_KEYS if key not in ("task", "steps")},
)
_files = st.fixed_dictionaries(
    {"procedure": st.just("p") | _trees, "title": st.just("P") | _trees,
     "tasks": st.lists(_tasks, max_size=3) | _trees},
    optional={key: _trees for key in TOP_KEYS if key not in ("procedure", "title", "tasks")},
)  # fmt: skip


@given(_trees | _files)
@many
def test_any_tree_is_read_or_refused_in_words(tree: object) -> None:
    """JSON is YAML 1.2."""
    said = json.dumps(tree, ensure_ascii=False, indent=1).encode("utf-8", "surrogatepass")
    reading = read_file(said, kind="yaml")
    holds(reading)
    keeps(said, "yaml", reading)
