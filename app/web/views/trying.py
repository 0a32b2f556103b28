"""What if, as the Lead board shows it: the changes that are tried, and the run with them beside the present one."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from app.core.changes import EXAMPLES
from app.core.commands import Refusal, ReviseTakes
from app.core.situation import Situation
from app.core.times import clock
from app.core.what_if import what_if
from app.web.views.ahead import per_cent, spread_words
from app.web.views.desk import NewKey
from app.web.views.figures import lead, room_words

if TYPE_CHECKING:
    from app.core.forecast import Forecast
    from app.core.outlook import Comparison
    from app.core.what_if import Change

MOST_TRIED = 8
"""So many examples of a kind are looked at for one that can be tried. Our own bound, no source."""


@dataclass(frozen=True, slots=True)
class ChangeRow:
    """`words` is what would be logged, empty when nothing can be tried; `drop` the other changes.

    `order` says it so that doing it logs what is shown, though the run has moved on since.
    """

    said: str
    order: str
    words: str
    drop: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ComparedRow:
    """One figure as it stands and as it would be; `moved` tells whether they differ."""

    what: str
    now: str
    then: str
    moved: bool


@dataclass(frozen=True, slots=True)
class Trying:
    """`said` is what is tried; `refusal` says why it can't be, and then nothing is compared.

    `kept` goes along with the next change that is typed, `typed` is to be corrected. `at_s`: a past moment is shown.
    """

    said: tuple[str, ...]
    kept: tuple[str, ...]
    typed: str
    at_s: int | None
    changes: tuple[ChangeRow, ...]
    compared: tuple[ComparedRow, ...]
    refusal: str
    examples: tuple[str, ...]
    people: tuple[str, ...]
    steps: tuple[tuple[str, str], ...]
    key: str


def trying(
    situation: Situation,
    said: Sequence[str],
    tried: "Comparison | None",
    refusal: str,
    new_key: NewKey,
    past: bool = False,
) -> Trying:
    """`tried` is None when nothing is tried, or it was refused."""
    return Trying(
        said=tuple(said),
        kept=tuple(said[:-1] if refusal else said),
        typed=said[-1] if refusal else "",
        at_s=situation.at_s if past else None,
        changes=_refused(said) if tried is None else _changes(tried),
        compared=() if tried is None else _compared(tried),
        refusal=refusal,
        examples=_examples(situation),
        people=situation.network.crew,
        steps=tuple(
            (situation.id(number), step.do)
            for number, step in enumerate(situation.network.steps)
            if situation.is_open(number)
        ),
        key=new_key(),
    )


def _changes(tried: "Comparison") -> tuple[ChangeRow, ...]:
    changes = tried.supposed.changes
    return tuple(
        ChangeRow(
            change.said,
            _order(change),
            change.words,
            tuple(other.said for other in changes if other is not change),
        )
        for change in changes
    )


def _order(change: "Change") -> str:
    """What a person loses is said of the step that it is shown for, and in the seconds shown."""
    command = change.command
    return f"{command.step} takes {command.takes_s} s" if isinstance(command, ReviseTakes) else change.said


def _refused(said: Sequence[str]) -> tuple[ChangeRow, ...]:
    return tuple(ChangeRow(text, text, "", (*said[:place], *said[place + 1 :])) for place, text in enumerate(said))


def _compared(tried: "Comparison") -> tuple[ComparedRow, ...]:
    before, then = tried.before, tried.supposed.then
    within = before.procedure.on_plan_within_s
    rows = [
        ("Team, against plan", lead(before.lead_s, within).words, lead(then.lead_s, within).words),
        ("Finish", clock(before.projection.end_s), clock(then.projection.end_s)),
        ("Room before the limit", room_words(before.room_s), room_words(then.room_s)),
        ("Chance to finish in time", _chance(tried.forecast_before), _chance(tried.forecast_then)),
        ("Forecast", _spread(tried.forecast_before), _spread(tried.forecast_then)),
    ]
    for view in before.crew:
        after = then.person(view.designator)
        rows.append((view.designator, lead(view.lead_s, within).words, lead(after.lead_s, within).words))
    if then.projection.misses - before.projection.misses:
        missed = sorted(then.projection.misses - before.projection.misses)
        rows.append(("No window left", "", "; ".join(then.network.steps[number].do for number in missed)))
    return tuple(ComparedRow(what, now, after, now != after) for what, now, after in rows)


def _chance(forecast: "Forecast | None") -> str:
    return "–" if forecast is None or forecast.team.chance is None else per_cent(forecast.team.chance)


def _spread(forecast: "Forecast | None") -> str:
    return "nothing left to do" if forecast is None else spread_words(forecast.team)


def _examples(situation: Situation) -> tuple[str, ...]:
    """One example of each kind in the words of this run, of those that can be tried now."""
    kinds = (
        [f"{view.designator} loses 15 min" for view in situation.crew if view.next is not None],
        [f"{view.next} takes 40 min" for view in situation.crew if view.next is not None],
        [f"put off {task.id}" for task in situation.procedure.tasks if task.may_put_off],
        list(_swaps(situation)),
    )
    found = (next((text for text in texts[:MOST_TRIED] if _can_be_tried(situation, text)), None) for texts in kinds)
    return tuple(text for text in found if text is not None) or EXAMPLES


def _swaps(situation: Situation) -> Iterator[str]:
    close_out = situation.procedure.limits.close_out
    for person in situation.network.crew:
        own = [each for each in situation.lists[person] if not situation.begun(each) and each != close_out]
        yield from (f"swap {first} and {second} of {person}" for first, second in pairwise(own))


def _can_be_tried(situation: Situation, text: str) -> bool:
    try:
        what_if(situation, [text])
    except Refusal:
        return False
    return True
