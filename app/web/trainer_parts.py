"""The parts of the trainer's page of a rehearsal. It decides nothing."""

from app.core.situation import Situation
from app.web.keys import new_key
from app.web.render import Part, Renderer
from app.web.views.trainer import trainer

NAMES = ("clock", "people", "to_come", "trouble")


def trainer_parts(renderer: Renderer, situation: Situation, common: dict[str, object]) -> tuple[Part, ...]:
    """Only a word where the run is live: nothing in it can be made up."""
    if situation.state.kind != "rehearsal":
        return (renderer.part("trainer-none", "_trainer_none.html", **common),)
    found = trainer(situation, new_key)
    # A press makes only its own part anew, so no two parts share a key.
    more = common | {"trainer": found, "keys": tuple(new_key() for _ in range(10))}
    return tuple(renderer.part(f"trainer-{name}", f"_trainer_{name}.html", **more) for name in NAMES)
