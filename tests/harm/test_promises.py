"""Each promise of the table in a short form: `python -m tests.harm` is the long one."""

import pytest

from tests.harm.promises import PROMISES, Promise
from tests.harm.table import show


@pytest.mark.parametrize("promise", PROMISES, ids=[each.name for each in PROMISES])
def test_the_promise_is_kept(promise: Promise) -> None:
    row = promise.make(promise.short)
    if row.missing:
        pytest.skip(row.missing)
    assert row.kept, show(row)
