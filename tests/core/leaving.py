"""What a run leaves, in few words: for tests of the next outing. It claims nothing itself."""

from app.core.carry_notes import Source
from app.core.checking import check
from app.core.events import (
    Event,
)
from app.core.fold import fold
from app.core.next_outing import next_outing
from app.core.procedure import After, Procedure
from app.core.situation import Prepared, Situation
from app.core.state import State
from tests.core.building import procedure, step, task
from tests.core.running import logged

FROM = Source(7, "mast")


def after(*events: Event) -> State:
    return fold([logged(place, 60 * place, event) for place, event in enumerate(events, 1)])


def left(made: Procedure, *events: Event, following: Procedure | None = None) -> Procedure:
    """What a run of `made` leaves after these events, one a minute."""
    now = Situation(Prepared(made), after(*events), 60 * len(events))
    found = next_outing(now.procedure, now.state, FROM, following)
    assert found is not None
    assert [fault for fault in check(found) if not fault.remark] == []
    return found


def note(made: Procedure, *events: Event) -> str:
    """The note of the first step that is left."""
    return left(made, *events).steps[0].note


def mast() -> Procedure:
    rig = task("rig", [step(60), step(60), step(60)], who=("EV1",))
    home = task("home", [step(60)], who=("EV1",), after=(After("rig"),))
    return procedure(rig, home, crew=("EV1", "EV2"), close_out="home")


def one(*steps: object, **more: object) -> Procedure:
    """A procedure of one task of EV1's."""
    return procedure(task("rig", steps, who=("EV1",), **more), crew=("EV1", "EV2"))  # type: ignore[arg-type] # as `task` takes them
