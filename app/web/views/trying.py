"""What if, as the Lead board shows it: the changes that are tried, and the run with them beside the present one."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.core.changes import EXAMPLES
from app.core.situation import Situation
from app.core.times import clock
from app.web.views.ahead import per_cent, spread_words
from app.web.views.desk import NewKey
from app.web.views.figures import lead, room_words

if TYPE_CHECKING:
    from app.core.forecast import Forecast
    from app.core.outlook import Comparison


@dataclass(frozen=True, slots=True)
class ChangeRow:
    """`drop`: the address of the board with the other changes only."""

    said: str
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
    """`said` is what is tried; `refusal` says why it can't be, and then nothing is compared."""

    said: tuple[str, ...]
    changes: tuple[ChangeRow, ...]
    compared: tuple[ComparedRow, ...]
    refusal: str
    examples: tuple[str, ...]
    people: tuple[str, ...]
    steps: tuple[tuple[str, str], ...]
    key: str


def trying(
    situation: Situation, said: Sequence[str], tried: "Comparison | None", refusal: str, new_key: NewKey
) -> Trying:
    """`tried` is None when nothing is tried, or it was refused."""
    return Trying(
        said=tuple(said),
        changes=() if tried is None else _changes(tried),
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
        ChangeRow(change.said, change.words, tuple(other.said for other in changes if other is not change))
        for change in changes
    )


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
    """Examples in the words of this run, where it has what they are about."""
    procedure, put_off = situation.procedure, situation.state.put_off
    found = [f"{view.designator} loses 15 min" for view in situation.crew if view.next is not None][:1]
    found += [f"{view.next} takes 40 min" for view in situation.crew if view.next is not None][:1]
    found += [f"put off {task.id}" for task in procedure.tasks if task.may_put_off and task.id not in put_off][:1]
    for person in situation.network.crew:
        own = [each for each in situation.lists[person] if not situation.begun(each)]
        own = [each for each in own if each != procedure.limits.close_out]
        if len(own) > 1:
            return (*found, f"swap {own[0]} and {own[1]} of {person}")
    return tuple(found) or EXAMPLES
