"""Random trouble for a rehearsal, drawn from a seed: as many troubles as are asked for. It orders none.

What can go wrong is drawn in proportion to what there is: each step of the plan, value, gauge, tool and person asked
at a hold is one place. Each place has one trouble at most. Sizes and words are our own, no source.
"""

from collections.abc import Iterator

from app.core.commands_rehearsal import SetInject
from app.core.procedure import Step
from app.core.shares import between, share
from app.core.situation import Prepared

FAILS = 0.3
"""Of the steps that trouble befalls so many fail and are done once more; the others take longer."""
LONGER = (0.4, 1.6)
"""A delay is so many times the likely duration."""
_WHOLE_S = 30
_DELAYS = ("it is stuck", "the grip slips", "it had to be set up again", "the view is poor", "the glove is in the way")
_FAILURES = ("it came loose again", "the first try did not hold", "it was not seated")
_NO_GOES = ("I lost sight of it", "one more check is needed", "the voice loop is broken up", "something is loose here")
_LOSSES = ("it drifted off", "its tether was not hooked")


def draw_trouble(prepared: Prepared, seed: int, count: int) -> tuple[SetInject, ...]:
    """`count` troubles, or as many as the procedure has places for, in the order in which they were drawn.

    The same seed and the same procedure give the same ones; a smaller count the first of them.
    """
    places = sorted(_places(prepared, seed), key=lambda each: share(seed, "place", each[0]))
    return tuple(trouble for _, trouble in places[:count])


def _places(prepared: Prepared, seed: int) -> Iterator[tuple[str, SetInject]]:
    """Each place by a name of its own, with the trouble that would befall it."""
    procedure, network = prepared.procedure, prepared.network
    nominal = [step for number, step in enumerate(network.steps) if network.nominal[number]]
    for step in nominal:
        yield f"step {step.id}", _of_step(step, seed)
        for value in step.record:
            yield f"value {step.id} {value.name}", SetInject("wrong reading", step=step.id, name=value.name)
    for supply in procedure.supplies:
        for person in supply.who or ("",):
            yield f"gauge {supply.name} {person}", _of_gauge(prepared, supply.name, person, supply.reserve, seed)
    for tool in procedure.tools:
        if any(tool in task.needs for task in procedure.tasks if not task.get_ahead):
            from_s, text = _moment(prepared, seed, tool), _one_of(_LOSSES, seed, tool)
            yield f"tool {tool}", SetInject("lost tool", from_s, text, tool=tool)
    for person in network.crew:
        if any(person in step.go for step in nominal):
            from_s, text = _moment(prepared, seed, person), _one_of(_NO_GOES, seed, person)
            by_s = _whole(between(seed, 120, 420, "lifts", person))
            yield f"person {person}", SetInject("no-go", from_s, text, person=person, by_s=by_s)


def _of_step(step: Step, seed: int) -> SetInject:
    if share(seed, "fails", step.id) < FAILS:
        return SetInject("failed step", text=_one_of(_FAILURES, seed, step.id), step=step.id)
    low, high = LONGER
    by_s = _whole(round(step.takes.likely_s * (low + (high - low) * share(seed, "longer", step.id))))
    return SetInject("delay", text=_one_of(_DELAYS, seed, step.id), step=step.id, by_s=by_s)


def _of_gauge(prepared: Prepared, supply: str, person: str, reserve: float, seed: int) -> SetInject:
    """It shows a little less than the reserve."""
    from_s = _moment(prepared, seed, f"{supply} {person}")
    return SetInject(
        "wrong reading", from_s, person=person or None, supply=supply, value=round(reserve - abs(reserve) / 10, 6)
    )


def _moment(prepared: Prepared, seed: int, name: str) -> int:
    """In the middle four fifths of the plan."""
    return round(prepared.plan.end_s * (0.1 + 0.8 * share(seed, "moment", name)))


def _whole(seconds: int) -> int:
    return max(1, round(seconds / _WHOLE_S)) * _WHOLE_S


def _one_of(texts: tuple[str, ...], seed: int, name: str) -> str:
    return texts[int(share(seed, "text", name) * len(texts))]
