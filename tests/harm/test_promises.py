"""Each promise of the table in a short form: `python -m tests.harm` is the long one."""

import pytest

from tests.harm.promises import PROMISES, Promise
from tests.harm.table import show

TIMED = {"stopping", "hostile", "clocks", "owner", "disk"}
"""Promises of a time: what runs beside them would be measured too."""
MARKED = [
    pytest.param(each, id=each.name, marks=[pytest.mark.alone] if each.name in TIMED else []) for each in PROMISES
]


@pytest.mark.parametrize("promise", MARKED)
def test_the_promise_is_kept(promise: Promise) -> None:
    row = promise.make(promise.short)
    if row.missing:
        pytest.skip(row.missing)
    assert row.kept, show(row)
