"""Any moment of a long log, by way of kept states."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.core.events import Event, Logged, NoteAdded, StepMarked, StepReopened
from app.core.events_progress import MarkCorrected
from app.core.fold import fold
from app.service import past
from tests.core.running import logged

CORRECTED = MarkCorrected("a/1", 8, 20, (), (("gap", 3.0),), "heard wrong")
EVENTS: st.SearchStrategy[Event] = st.sampled_from(
    [StepMarked("a/1"), StepMarked("a/2"), StepReopened("a/1", "slip"), NoteAdded("well"), CORRECTED]
)


@settings(max_examples=200, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(told=st.lists(st.tuples(EVENTS, st.integers(0, 30)), max_size=40), grows_at=st.integers(0, 40))
def test_a_moment_is_what_folding_the_whole_log_gives_late_entries_and_growth_included(
    monkeypatch: pytest.MonkeyPatch, told: list[tuple[Event, int]], grows_at: int
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


@pytest.mark.parametrize("notes_s", [100, 900], ids=["kept before the correction", "not kept for that moment"])
def test_a_mark_corrected_after_thousands_of_events_is_shown_by_its_new_time(notes_s: int) -> None:
    log = [logged(1, 100, StepMarked("a/1"))]
    log += [logged(seq, notes_s, NoteAdded("well")) for seq in range(2, past.EVERY + 200)]
    log.append(logged(len(log) + 1, 400, MarkCorrected("a/1", 100, 400, (), (), "heard wrong"), 1_000))
    kept = past.Past(log)
    assert [second for second in range(0, 1_000, 50) if "a/1" in kept.at(second).done] == [*range(400, 1_000, 50)]
    log.append(logged(len(log) + 1, 250, MarkCorrected("a/1", 400, 250, (), (), "wrong again"), 1_100))
    assert [second for second in range(0, 1_000, 50) if "a/1" in kept.at(second).done] == [*range(250, 1_000, 50)]
    assert kept.at(300).done["a/1"].at_s == kept.at().done["a/1"].at_s == 250
