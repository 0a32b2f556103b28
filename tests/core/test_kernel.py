"""The kernel against the projection, row by row: whatever varies in a row, it must give what `passes.project` gives."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from app.core.fold import fold
from app.core.freeing import with_freed
from app.core.kernel import Kernel
from app.core.network import Network, arrange, build
from app.core.passes import NOTHING_YET, Timeline, project
from app.core.situation import Prepared, Situation
from tests.core.building import procedure, task
from tests.core.guesses import procedures, runs

SETTINGS = settings(
    max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much]
)


def situation_of(data: st.DataObject) -> Situation:
    made = data.draw(procedures())
    _, log, at_s = data.draw(runs(made))
    return Situation(Prepared(made), fold(log), at_s)


def same(row: NDArray[np.floating[Any]], end: float, expected: Timeline) -> None:
    told = [None if np.isnan(each) else int(each) for each in row]
    assert told == list(expected.finish_s)
    assert end == expected.end_s


@SETTINGS
@given(data=st.data())
@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_one_row_is_the_projection_to_the_second(kind: type, data: st.DataObject) -> None:
    situation = situation_of(data)
    kernel = Kernel(situation.network, situation.facts, situation.at_s)
    finishes = kernel.finishes(np.array([situation.network.takes_s], dtype=kind))
    assert finishes.dtype == kind
    same(finishes[0], kernel.last_finish(finishes)[0], situation.projection)


@SETTINGS
@given(data=st.data())
def test_each_row_is_the_projection_with_its_own_durations(data: st.DataObject) -> None:
    situation = situation_of(data)
    n = len(situation.network.steps)
    durations = data.draw(st.lists(st.lists(st.integers(0, 4000), min_size=n, max_size=n), min_size=1, max_size=6))
    kernel = Kernel(situation.network, situation.facts, situation.at_s)
    finishes = kernel.finishes(np.array(durations, dtype=np.float64))
    for row, end, takes in zip(finishes, kernel.last_finish(finishes), durations, strict=True):
        expected = project(replace(situation.network, takes_s=tuple(takes)), situation.facts, situation.at_s)
        same(row, end, expected)


@SETTINGS
@given(data=st.data())
def test_each_row_is_the_projection_with_its_own_steps_put_off(data: st.DataObject) -> None:
    situation = situation_of(data)
    network, facts = situation.network, situation.facts
    open_steps = [step for step in range(len(network.steps)) if situation.is_open(step) and step not in facts.started]
    rows = data.draw(st.lists(st.sets(st.sampled_from(open_steps)) if open_steps else st.just(set()), min_size=1))
    kernel = Kernel(network, facts, situation.at_s, open_steps)
    masks = {step: np.array([step in row for row in rows]) for step in open_steps}
    finishes = kernel.finishes(np.array([network.takes_s] * len(rows), dtype=np.float64), masks)
    for found, end, row in zip(finishes, kernel.last_finish(finishes, masks), rows, strict=True):
        # What came in during the run frees nothing when it goes (see `fold`).
        since = {**facts.removed_s, **{each: 0 if each in facts.floor_s else situation.at_s for each in row}}
        arranged = arranged_without(situation, row)
        removed = with_freed(arranged, replace(facts, removed=facts.removed | row, removed_s=since))
        same(found, end, project(arranged, removed, situation.at_s))


def arranged_without(situation: Situation, row: set[int]) -> Network:
    """The same network: an order that is right with these steps in their lists is right without them too."""
    removed = situation.facts.removed | row
    return arrange(situation.network, situation.lists, situation.state.taken, situation.facts.done, removed)


def test_durations_of_the_wrong_shape_are_refused() -> None:
    kernel = Kernel(build(procedure(task("a", [60, 60]))), NOTHING_YET, 0)
    with pytest.raises(ValueError, match=r"\[K, 2\], not \[1, 3\]"):
        kernel.finishes(np.zeros((1, 3)))


def test_a_step_that_was_not_said_to_be_removable_is_not_put_off_silently() -> None:
    kernel = Kernel(build(procedure(task("a", [60, 60]))), NOTHING_YET, 0, removable=[1])
    with pytest.raises(ValueError, match="not said to be removable"):
        kernel.finishes(np.zeros((1, 2)), {0: np.array([True])})


def test_rows_laid_out_step_by_step_are_not_copied_and_not_changed() -> None:
    kernel = Kernel(build(procedure(task("a", [60, 60], who="EV1"))), NOTHING_YET, 0)
    durations = np.full((2, 5), 60.0)
    before = durations.copy()
    finishes = kernel.finishes(durations.T)
    assert finishes.shape == (5, 2)
    assert finishes.T.flags["C_CONTIGUOUS"]
    assert (durations == before).all()
