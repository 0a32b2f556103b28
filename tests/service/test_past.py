"""Any moment of a long log, by way of kept states."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.core.events import Logged, NoteAdded, StepMarked, StepReopened
from app.core.fold import fold
from app.service import past
from tests.core.running import logged

EVENTS = st.sampled_from([StepMarked("a/1"), StepMarked("a/2"), StepReopened("a/1", "slip"), NoteAdded("well")])


@settings(max_examples=200, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(told=st.lists(st.tuples(EVENTS, st.integers(0, 30)), max_size=40), grows_at=st.integers(0, 40))
def test_a_moment_is_what_folding_the_whole_log_gives_late_entries_and_growth_included(
    monkeypatch: pytest.MonkeyPatch, told: list[tuple[StepMarked | StepReopened | NoteAdded, int]], grows_at: int
) -> None:
    monkeypatch.setattr(past, "EVERY", 4)
    whole = [logged(seq, at_s, event) for seq, (event, at_s) in enumerate(told, start=1)]
    log: list[Logged] = whole[:grows_at]
    kept = past.Past(log)
    assert kept.at() == fold(log)
    log.extend(whole[grows_at:])
    assert kept.at() == fold(whole)
    for second in range(-1, 32):
        assert kept.at(second) == fold(whole, until_s=second)
