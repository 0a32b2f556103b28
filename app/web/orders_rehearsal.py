"""The orders of whoever trains, as rows for `orders`. It carries nothing out."""

from collections.abc import Mapping

from app.core.commands import moment
from app.core.commands_rehearsal import DrawTrouble, DropInject, NoteInjectDone, RuleClock, SetInject, SetPlayers
from app.web.orders_live import Row
from app.web.said import Said, takes_s


def _elapsed_s(said: str | int) -> int | None:
    """A clock position; None where none was said. Raises Refusal: it is none."""
    return None if said == "" else moment(said, 0)


def _inject(said: Said) -> SetInject:
    return SetInject(
        what=said.what,
        from_s=_elapsed_s(said.set_to),
        text=said.text,
        person=said.person or None,
        step=said.step or None,
        tool=said.tool or None,
        supply=said.supply or None,
        name=said.name or None,
        value=said.value,
        by_s=0 if said.takes == "" else takes_s(said.takes),
    )


REHEARSAL_ORDERS: Mapping[str, Row] = {
    "clock": ((), lambda said: RuleClock(said.rate, _elapsed_s(said.set_to))),
    "players": ((), lambda said: SetPlayers(said.who, said.seed)),
    "inject": (("what",), _inject),
    "draw-trouble": (("number",), lambda said: DrawTrouble(said.number, said.seed)),
    "drop-inject": (("inject",), lambda said: DropInject(said.inject)),
    "inject-done": (("inject",), lambda said: NoteInjectDone(said.inject)),
}
"""Name to what must be sent with it, and the command it makes."""
