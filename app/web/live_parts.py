"""The parts of a run's pages about what is watched beside the steps; Desk, Lead board and My list share them."""

from collections.abc import Callable, Mapping

from app.core.procedure import Designator
from app.core.situation import Situation
from app.web.keys import NewKey, new_key
from app.web.render import Part, Renderer
from app.web.views.flags import flags
from app.web.views.polls import polls
from app.web.views.rounds import rounds
from app.web.views.supplies import supplies
from app.web.views.tools import back, tools

View = Callable[[Situation, Designator | None, NewKey], object]
"""The context of a part, for one person's list or, with None, for a page of the whole team."""

VIEWS: Mapping[str, View] = {
    "polls": polls,
    "flags": flags,
    "rounds": rounds,
    "supplies": supplies,
    "tools": tools,
    "back": back,
}
"""Part id to what makes `found`, the context of its template ``_<id>.html``. With nothing to show it is empty."""

ON_DESK_ABOVE = ("back", "polls", "flags", "rounds")
ON_DESK_BELOW = ("supplies", "tools")
ON_LEAD = ("back", "flags", "polls", "rounds", "supplies", "tools")
ON_LIST_ABOVE = ("back", "polls", "rounds")
ON_LIST_BELOW = ("supplies", "tools")


def live_parts(
    renderer: Renderer,
    situation: Situation,
    names: tuple[str, ...],
    common: Mapping[str, object],
    person: Designator | None = None,
) -> tuple[Part, ...]:
    """The parts `names`, in that order. `common` is what every part's template is given."""
    return tuple(
        renderer.part(name, f"_{name}.html", found=VIEWS[name](situation, person, new_key), person=person, **common)
        for name in names
        if name in VIEWS
    )
