"""Events and their one JSON form."""

import json
import types
import typing
from dataclasses import fields

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.events import (
    KINDS,
    VERSION,
    Event,
    GoGiven,
    NoGoGiven,
    StepMarked,
    UnknownEvent,
    body_of,
    canonical,
    event_from,
    kind_of,
)

_numbers = st.floats(allow_nan=False, allow_infinity=False)


def _values(annotation: object) -> st.SearchStrategy[object]:
    """Values of a field's type, as the module promises them: text, numbers, booleans, and tuples of those."""
    simple: dict[object, st.SearchStrategy[object]] = {
        str: st.text(),
        int: st.integers(),
        bool: st.booleans(),
        float: _numbers,
        type(None): st.none(),
    }
    if annotation in simple:
        return simple[annotation]
    inner = typing.get_args(annotation)
    if isinstance(annotation, types.UnionType):
        return st.one_of(*(_values(each) for each in inner))
    assert typing.get_origin(annotation) is tuple, annotation
    if inner[-1] is Ellipsis:
        return st.lists(_values(inner[0]), max_size=4).map(tuple)
    return st.tuples(*(_values(each) for each in inner))


def events(kind: type[Event]) -> st.SearchStrategy[Event]:
    hints = typing.get_type_hints(kind)
    return st.builds(kind, **{each.name: _values(hints[each.name]) for each in fields(kind)})


@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)
@given(data=st.data())
def test_an_event_comes_back_from_its_json_as_it_was(kind: type[Event], data: st.DataObject) -> None:
    event = data.draw(events(kind))
    text = canonical(body_of(event))
    again = event_from(kind_of(event), VERSION, json.loads(text))
    assert again == event
    assert type(again) is kind
    assert canonical(body_of(again)) == text


def test_an_unknown_kind_is_refused() -> None:
    with pytest.raises(UnknownEvent, match="StepForgotten"):
        event_from("StepForgotten", VERSION, {})


def test_an_unknown_version_is_refused() -> None:
    with pytest.raises(UnknownEvent, match="version 2"):
        event_from("StepMarked", 2, {"step": "a/1"})


@pytest.mark.parametrize("body", [{}, {"step": "a/1", "mood": "good"}])
def test_a_body_that_does_not_fit_is_refused(body: dict[str, object]) -> None:
    with pytest.raises(UnknownEvent, match="does not fit"):
        event_from("StepMarked", VERSION, body)


def test_the_canonical_text_sorts_its_keys_keeps_letters_and_has_no_spaces() -> None:
    assert canonical({"b": 1, "a": ["ä", None]}) == '{"a":["ä",null],"b":1}'


def test_a_number_that_is_none_has_no_canonical_text() -> None:
    with pytest.raises(ValueError, match="Out of range"):
        canonical(body_of(StepMarked("a/1", (("gap", float("nan")),))))


def test_an_answer_stored_before_it_said_who_heard_it_is_still_read() -> None:
    assert event_from("GoGiven", 1, {"step": "a/1", "person": "EV1"}) == GoGiven("a/1", "EV1", None, False)
    old = {"step": "a/1", "person": "EV1", "reason": "wind"}
    assert event_from("NoGoGiven", 1, old) == NoGoGiven("a/1", "EV1", "wind", False)
