"""Whether the values of an event from outside are of the kinds that its fields have. It judges no meaning."""

import math
from functools import cache
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from app.core.events import KINDS, Event, kind_of

MOST = 10**13
"""No whole number of an event reaches it: in milliseconds it is 300 years. Our own bound, no source."""


def misfit(event: Event) -> str:
    """The name of the first field whose value is of another kind than the field; empty where all fit."""
    return next((name for name, kind in _kinds(kind_of(event)).items() if not _fits(getattr(event, name), kind)), "")


@cache
def _kinds(kind: str) -> dict[str, Any]:
    return get_type_hints(KINDS[kind])


def _fits(value: object, kind: Any) -> bool:
    """Raises TypeError: no event has had a field of this kind yet."""
    origin, args = get_origin(kind), get_args(kind)
    if origin in (Union, UnionType):
        return any(_fits(value, each) for each in args)
    if origin is tuple:
        return isinstance(value, tuple) and _each_fits(value, args)
    if kind is float:
        return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
    if kind is int:
        return isinstance(value, int) and not isinstance(value, bool) and abs(value) < MOST
    if kind in (str, bool, NoneType):
        return isinstance(value, kind)
    raise TypeError(f"a field of the kind {kind} is not known here")


def _each_fits(values: tuple[object, ...], kinds: tuple[Any, ...]) -> bool:
    if kinds[-1:] == (...,):
        return all(_fits(each, kinds[0]) for each in values)
    return len(values) == len(kinds) and all(map(_fits, values, kinds))
