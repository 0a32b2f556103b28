"""The file for the next outing is read back before it is given."""

import pytest

from app.core.commands import Refusal
from app.core.events import Event, StepMarked
from app.core.fold import fold
from app.core.procedure import Person, Procedure
from app.core.situation import Prepared, Situation
from app.reading.characters import MOST_BYTES
from app.reading.procedure_reader import read_procedure
from app.service.carrying import carried_file
from app.settings import HOME
from tests.core.building import procedure, step, task
from tests.core.running import logged


def at(made: Procedure, *events: Event) -> Situation:
    return Situation(Prepared(made), fold([logged(seq, 9, event) for seq, event in enumerate(events, 1)]), 60)


def test_of_every_moment_of_the_sample_there_is_a_file_that_loads() -> None:
    made = read_procedure((HOME / "procedures" / "pump-changeout.yaml").read_bytes()).procedure
    assert made is not None
    steps = [each.id for each in made.steps if not made.task(each.task).get_ahead and each.task != "come-in"]
    for done in range(0, len(steps), 3):
        found = carried_file(at(made, *map(StepMarked, steps[:done])), 1)
        reading = read_procedure(found.text)
        assert reading.procedure == found.procedure
        assert [fault.what for fault in reading.faults if "has no step" not in fault.what] == []


def test_a_file_that_would_be_too_large_has_shorter_notes() -> None:
    """Each task's twenty steps that were done would be told in up to 2,000 characters of its note."""
    tasks = [task(f"t{number}", [step(1, "é" * 79) for _ in range(21)]) for number in range(220)]
    events = [StepMarked(f"{each.id}/{number}") for each in tasks for number in range(1, 21)]
    found = carried_file(at(procedure(*tasks), *events), 1)
    assert len(found.text.encode()) < MOST_BYTES
    assert read_procedure(found.text).procedure == found.procedure
    assert len(found.procedure.steps) == 220
    assert all(len(each.note) == 200 for each in found.procedure.steps)


def test_what_makes_no_file_is_refused_in_words() -> None:
    """A crew of more than 64 is not read."""
    many = tuple(Person(f"P{number}") for number in range(40))
    others = tuple(Person(f"Q{number}") for number in range(40))
    first = procedure(task("a", [step(60, who=tuple(each.designator for each in many))]))
    following = procedure(task("b", [step(60, who=tuple(each.designator for each in others))]))
    with pytest.raises(Refusal, match="the crew has 80 people"):
        carried_file(at(first), 1, following)
