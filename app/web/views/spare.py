"""What a station needs to go on while the server is away: a card for each of the next steps of every band.

A card shows its step as if all before it were done. It decides nothing: what is pressed on it is kept at the station,
and the server judges it on return.
"""

from dataclasses import dataclass

from app.core.procedure import Designator
from app.core.situation import Situation
from app.web.views.step_progress import Caller, Count, Press, Reader, Reading, caller, confirm, count, readers, readings
from app.web.views.step_words import Signal, cautions, notes_on, others_of, tag_words

MOST_CARDS = 40
"""Per band: more than anybody does while a link is mended. Our own bound."""


@dataclass(frozen=True, slots=True)
class Card:
    """A step. `asks`: who has not read the warning yet, `callers` who is asked to be go, each with its button.

    `may_refuse`: who can be said to be no-go, and then what lifts it. `counted`: how many of its like actions are done.
    `asked`: who confirms it, `confirm` that one's button.
    """

    id: str
    task: str
    number: int
    count_of: int
    text: str
    tag: str
    who: str
    warning: str
    asks: tuple[Reader, ...]
    signals: tuple[Signal, ...]
    noted: tuple[str, ...]
    callers: tuple[Caller, ...]
    may_refuse: tuple[Designator, ...]
    readings: tuple[Reading, ...]
    count: Count | None
    counted: int
    asked: str
    confirm: Press | None
    waits: str


@dataclass(frozen=True, slots=True)
class Spare:
    """The cards of one band, the next step first. `own`: whoever presses sits at their own console."""

    part_id: str
    own: Designator | None
    cards: tuple[Card, ...]


def spares(situation: Situation, page: str) -> tuple[Spare, ...]:
    """Of the bands of a page, ``desk`` or ``list/EV1``; none for another page, or a list of nobody of the crew."""
    network = situation.network
    if page == "desk":
        seats = tuple(
            _spare(situation, f"band-{seat}", steps, None) for seat, steps in enumerate(network.lists, start=1)
        )
        nobody = tuple(step for step in network.order if not network.people[step])
        return (*seats, _spare(situation, f"band-{len(seats) + 1}", nobody, None)) if nobody else seats
    person = page.removeprefix("list/")
    if page == person or person not in network.crew:
        return ()
    return (_spare(situation, "list-now", network.lists[network.crew.index(person)], person),)


def _spare(situation: Situation, part_id: str, steps: tuple[int, ...], own: Designator | None) -> Spare:
    still = [step for step in steps if situation.is_open(step)]
    return Spare(part_id, own, tuple(_card(situation, step, own) for step in still[:MOST_CARDS]))


def _card(situation: Situation, number: int, own: Designator | None) -> Card:
    step = situation.network.steps[number]
    task = situation.procedure.task(step.task)
    return Card(
        id=step.id,
        task=task.title,
        number=step.number,
        count_of=len(task.steps),
        text=step.do,
        tag=tag_words(situation, step.task),
        who=" and ".join(step.who),
        warning=step.warning,
        asks=readers(situation, step, own),
        signals=cautions(step),
        noted=notes_on(situation, step.id),
        callers=tuple(caller(person, situation.state.answer(step.id, person), "go", own) for person in step.go),
        may_refuse=tuple(person for person in step.go if own in (None, person)),
        readings=readings(situation, step),
        count=count(situation, step),
        counted=len(situation.state.progress.counts.get(step.id, ())),
        confirm=confirm(step, own) if step.confirm_by else None,
        waits=_waits(situation, number),
        asked=f"{step.confirm_by} confirms it." if step.confirm_by else "",
    )


def _waits(situation: Situation, number: int) -> str:
    """What others had still to do before this step; empty if nothing."""
    others = others_of(situation, number, situation.open_before(number))
    return f"Waited for {' and '.join(others)} when the link was lost." if others else ""
