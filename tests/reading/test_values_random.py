"""No text makes a reader of one value fail in a way of its own: times, sentences, bodies, fields and numbers."""

import json
import re
from functools import cache, partial

from fastapi import HTTPException
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.changes import EXAMPLES, read
from app.core.commands import Command, Refusal, in_address, moment
from app.core.situation import Prepared, Situation
from app.core.state import State
from app.core.times import LONGEST_S, TimeFault, instant, read_clock, read_duration, read_instant
from app.reading.procedure_reader import read_procedure
from app.reading.xlsx_values import Kind as NumberKind
from app.reading.xlsx_values import NotRead, kind_of_format, number_text, unescaped
from app.web.depends import clean_name
from app.web.keys import read_key
from app.web.orders import read_number
from app.web.strict_json import read_json
from tests.reading.test_readers_random import SAMPLES, answer, many, scalars

_INSTANTS = r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}([.][0-9]+)?(Z|[+-][0-9]{2}:[0-9]{2})?"
_DURATIONS = r"P([0-9]+[WD])?T?([0-9]+[HMS]){0,3}"
_CLOCKS = r"[0-9]{1,5}:[0-9]{2}(:[0-9]{2})?"
_times = st.one_of(
    st.text(max_size=12),
    st.text("0123456789:.-+TZPWDHMStz hmins٣", max_size=24),
    *(st.from_regex(re.compile(each), fullmatch=True) for each in (_INSTANTS, _DURATIONS, _CLOCKS)),
)


@given(_times)
@settings(max_examples=500, deadline=None)
def test_any_text_is_a_time_or_a_fault_with_its_remedy(text: str) -> None:
    for reader in (read_clock, read_duration):
        elapsed = answer(partial(reader, text), TimeFault)
        assert elapsed.remedy if isinstance(elapsed, TimeFault) else 0 <= elapsed < LONGEST_S
    moment_ = answer(partial(read_instant, text), TimeFault)
    assert moment_.remedy if isinstance(moment_, TimeFault) else read_instant(instant(moment_)) <= moment_


@given(_times, st.integers(-10, 10_000))
@many
def test_any_moment_is_read_or_refused(text: str, now_s: int) -> None:
    for said in (text, in_address(text), f"-{text}"):
        read_as = answer(partial(moment, said, now_s), Refusal)
        assert isinstance(read_as, int) or read_as.code == "bad-time"


@cache
def situation() -> Situation:
    procedure = read_procedure(SAMPLES[0].read_bytes()).procedure
    assert procedure is not None
    return Situation(Prepared(procedure), State(), 0)


_WORDS = sorted(
    {word for each in EXAMPLES for word in each.split()} | {"EV1", "of", "and", "before", "h", "99", "“", "'"}
)
_sentences = st.one_of(
    st.text(max_size=40),
    st.lists(st.sampled_from(_WORDS) | st.text(max_size=3), max_size=12).map(" ".join),
    st.lists(st.sampled_from(EXAMPLES), min_size=1, max_size=3).map(" ".join),
    st.sampled_from([" and ", " takes ", " loses ", " of ", " before ", "swap ", " "]).map(lambda piece: piece * 60),
)


@given(_sentences)
@many
def test_any_sentence_is_a_change_or_refused(text: str) -> None:
    change = answer(partial(read, situation(), text, "what if"), Refusal)
    assert isinstance(change, Command) or len(str(change)) < 600


_PIECES = ['{"a":', *'[]},1" ', "NaN", "-Infinity", "1e999", "\\ud800", '"a":1,', "9" * 50, "\ufeff"]
_values = st.recursive(
    scalars, lambda inside: st.lists(inside) | st.dictionaries(st.text(max_size=3), inside), max_leaves=9
)
_json = st.one_of(
    st.binary(max_size=60),
    _values.map(lambda value: json.dumps(value).encode()),
    st.lists(st.sampled_from(_PIECES)).map("".join).map(str.encode),
)


@given(_json)
@settings(max_examples=500, deadline=None)
def test_any_body_is_json_or_refused(body: bytes) -> None:
    """What is read can be sent back as JSON in UTF-8, but for 1e999, which a field of numbers then refuses."""
    value = answer(partial(read_json, body), HTTPException, ValueError, RecursionError)
    if isinstance(value, HTTPException):
        assert value.status_code == 422
        assert value.detail.isprintable()
    elif not isinstance(value, Exception):
        json.dumps(value, ensure_ascii=False).encode()


@given(st.text(max_size=30) | st.text("0123456789,.-+−eE ٣", max_size=30))
@many
def test_any_field_of_a_form_is_read_or_refused(text: str) -> None:
    number = answer(partial(read_number, "x", text), Refusal)
    assert number.code == "not-a-number" if isinstance(number, Refusal) else abs(number) < 1e12
    key = answer(partial(read_key, text), ValueError)
    assert isinstance(key, ValueError) or len(key) == 36
    assert clean_name(text).isprintable()


@given(
    st.text(max_size=20) | st.text("0123456789.eE+-", max_size=20),
    st.sampled_from(NumberKind),
    st.text('hmsyd#0.%[];"\\_*?@/', max_size=20),
)
@many
def test_any_number_of_a_workbook_is_read_or_refused(text: str, kind: NumberKind, code: str) -> None:
    assert isinstance(unescaped(f"_x{text}_"), str)
    for each in (kind, kind_of_format(170, code)):
        said = answer(partial(number_text, text, each), NotRead)
        assert said.remedy if isinstance(said, NotRead) else said
