"""Whatever a run leaves is a sound procedure that loses nothing, repeats nothing, and reads back from its file."""

from collections import Counter

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.core.carry import carried_over
from app.core.carry_notes import Source
from app.core.checking import check
from app.core.network import build
from app.core.next_outing import next_outing, replaced
from app.core.procedure import Procedure, StepId
from app.core.situation import Situation
from app.reading.procedure_reader import read_procedure
from app.writing.yaml_file import yaml_text
from tests.core.leftovers import leavings, sound_procedures

FROM = Source(7, "mast")
SETTINGS = settings(max_examples=80, deadline=None, suppress_health_check=list(HealthCheck))


def owed_steps(now: Situation) -> list[StepId]:
    """Written from the rule alone: open, not of the close-out, and of no get-ahead item that nobody began."""
    close_out, begun = now.procedure.limits.close_out, now.state.begun_tasks
    over = {*now.state.done, *now.state.not_needed}
    return [
        step.id
        for task in now.procedure.tasks
        for step in task.steps
        if step.id not in over and task.id != close_out and (not task.get_ahead or task.id in begun)
    ]


def ancestors(made: Procedure) -> dict[StepId, set[StepId]]:
    """For each step all that must be done before it, whoever does it."""
    network = build(made)
    names = [step.id for step in network.steps]
    found: dict[StepId, set[StepId]] = {}

    def of(step: int) -> set[StepId]:
        if names[step] not in found:
            found[names[step]] = set().union(*({names[each], *of(each)} for each, _ in network.before[step]))
        return found[names[step]]

    for step in range(len(names)):
        of(step)
    return found


def waited_for(now: Situation, step: StepId) -> set[StepId]:
    """What it waits for in the run; what is not needed stands for its own."""
    network, found = now.prepared.network, set[StepId]()
    for earlier, _ in network.before[network.index[step]]:
        one = network.steps[earlier].id
        found |= waited_for(now, one) if one in now.state.not_needed else {one}
    return found


def drawn(data: st.DataObject) -> tuple[Situation, Procedure | None]:
    now = data.draw(leavings(data.draw(sound_procedures())))
    return now, next_outing(now.procedure, now.state, FROM)


@given(st.data())
@SETTINGS
def test_whatever_a_run_leaves_is_sound_and_reads_back_from_its_file(data: st.DataObject) -> None:
    now, found = drawn(data)
    assert (found is None) == (not owed_steps(now))
    if found is not None:
        assert [fault for fault in check(found) if not fault.remark] == []
        reading = read_procedure(yaml_text(found, "Carried over"))
        assert reading.procedure == found, reading.faults


@given(st.data())
@SETTINGS
def test_nothing_owed_is_lost_and_nothing_done_is_repeated(data: st.DataObject) -> None:
    now, found = drawn(data)
    if found is None:
        return
    close_out = now.procedure.limits.close_out
    owed = [now.procedure.step(step) for step in owed_steps(now)]
    left = [step for step in found.steps if step.task != close_out]
    assert Counter(step.task for step in left) == Counter(step.task for step in owed)
    for task in found.tasks:
        assert [step.number for step in task.steps] == list(range(1, len(task.steps) + 1))
        if task.id not in (close_out, *now.state.added):
            assert [(step.do, step.takes) for step in task.steps] == [
                (step.do, step.takes) for step in owed if step.task == task.id
            ]
    if close_out is not None:
        assert [step.do for step in found.tasks[-1].steps] == [step.do for step in now.procedure.task(close_out).steps]
    order = [task.id for task in carried_over(now.procedure, now.state)]
    assert [task.id for task in found.tasks if task.id != close_out] == order


@given(st.data())
@SETTINGS
def test_what_waited_for_work_that_is_left_still_waits_for_it(data: st.DataObject) -> None:
    now, found = drawn(data)
    if found is None:
        return
    places: dict[str, str] = {}
    for task in carried_over(now.procedure, now.state):
        places |= {step.id: f"{task.id}/{place}" for place, step in enumerate(task.steps, 1)}
    before = ancestors(found)
    for other, place in places.items():
        assert {places[one] for one in waited_for(now, other) if one in places} <= before[place]


@given(st.data())
@SETTINGS
def test_at_the_head_of_any_following_file_it_is_sound_too(data: st.DataObject) -> None:
    now = data.draw(leavings(data.draw(sound_procedures())))
    following = data.draw(st.one_of(st.just(now.prepared.base.procedure), sound_procedures()))
    found = next_outing(now.procedure, now.state, FROM, following)
    if found is None:
        return
    assert [fault for fault in check(found) if not fault.remark] == []
    reading = read_procedure(yaml_text(found))
    assert reading.procedure == found, reading.faults
    assert found.limits == following.limits
    gone = replaced(now.procedure, now.state, following)
    for task in following.tasks:
        same = now.procedure.task(task.id) if task.id in gone else found.task(task.id)
        assert [step.do for step in same.steps] == [step.do for step in task.steps]
    assert len(found.tasks) == len(following.tasks) - len(gone) + len(carried_over(now.procedure, now.state))
