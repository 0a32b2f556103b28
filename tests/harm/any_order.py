"""Any order there is, with any fields that a run of this moment could have: many are refused, all kinds come up."""

import random
from collections.abc import Iterable
from dataclasses import fields
from typing import Any, get_args

from app.core.commands import Command, EndRun, GiveGo
from app.core.events_rehearsal import INJECTS
from app.core.events_watch import TOOL_WAYS
from app.core.procedure import Step
from app.core.situation import Situation
from tests.core.running import good_values, orders_for

KINDS: tuple[type[Command], ...] = tuple(kind for kind in get_args(Command) if kind is not EndRun)


def any_orders(pick: random.Random, now: Situation) -> Iterable[Command]:
    """A third of the time all that it takes to finish a step that is ready, else one order of any kind."""
    steps = range(len(now.network.steps))
    ready = [now.id(number) for number in steps if now.is_open(number) and not now.open_before(number)]
    if ready and pick.random() < 1 / 3:
        step = now.step(pick.choice(ready))
        return (*(GiveGo(step.id, person) for person in step.go), *orders_for(now, step.id))
    under_way = [*now.state.progress.called, *now.state.progress.counts]
    holds = [each for each in ready if now.step(each).go]
    some = pick.choice([under_way, holds, ready]) or [now.id(number) for number in steps]
    return (_made(pick, pick.choice(KINDS), now, pick.choice(some)),)


def _made(pick: random.Random, kind: Any, now: Situation, step: str) -> Command:
    has = _about(pick, now, now.step(step)) | _watched(pick, now) | _trained(pick, now)
    made: Command = kind(**{each.name: has[each.name] for each in fields(kind)})
    return made


def _about(pick: random.Random, now: Situation, step: Step) -> dict[str, Any]:
    """A value for each field of an order about steps, tasks and people, by its name."""
    values = pick.choice([good_values(step), good_values(step), tuple((each.name, 1e3) for each in step.record)])
    people = [*step.who, *step.go, *([step.confirm_by] if step.confirm_by else [])]
    person = pick.choice(people or [each.designator for each in now.procedure.crew])
    optional = [each.id for each in now.procedure.tasks if each.may_put_off or each.get_ahead]
    own = now.lists.get(person, ())[-3:]
    tasks = pick.choices([step.task, *optional, *own, *now.state.put_off, *now.state.taken], k=3)
    tasks = pick.choice([tasks, list(own) or tasks, list(now.state.taken) or tasks])
    said = pick.choice([f"{step.id} takes 9 min", f"put off {tasks[0]}"])
    counted = len(now.state.progress.counts.get(step.id, ()))
    found: dict[str, Any] = {"step": step.id, "values": values, "keep_time": pick.random() < 0.5, "said": (said,)}
    found |= {"ordered_because": pick.choice([None, None, None, "the lead says so"]), "person": person, "to": person}
    found |= {"who": (person,), "heard": pick.random() < 0.3, "number": counted + pick.choice([1, 1, 1, 2])}
    found |= {"task": tasks[0], "tasks": tuple(dict.fromkeys(tasks)), "first": tasks[0], "second": tasks[-1]}
    found |= {"before": pick.choice([None, tasks[0]]), "after": pick.choice([(), ((step.task, None),)])}
    return found | {"takes_s": pick.randrange(0, 1200), "do": "Look behind it"}


def _watched(pick: random.Random, now: Situation) -> dict[str, Any]:
    """The same for what is watched, and for texts."""
    lately = pick.randint(max(1, now.state.seq - 8), max(1, now.state.seq))
    text = pick.choice(["All well", "Ünter dem Tisch \N{SNOWMAN}", ""])
    found: dict[str, Any] = {"reason": pick.choice(["so", "so", "so", ""]), "text": text, "question": "Ready?"}
    found |= {"poll": f"poll-{pick.randint(1, 3)}", "go": pick.random() < 0.7, "good": pick.random() < 0.8}
    found |= {"round": _named(now.procedure.rounds), "supply": _named(now.procedure.supplies), "answer": "no cut"}
    found |= {"value": max(0.0, 95 - now.at_s / 300), "readings": (), "anew": pick.random() < 0.1}
    found |= {"tool": pick.choice(now.procedure.tools or ("none",)), "how": pick.choice(TOOL_WAYS)}
    return found | {"where": pick.choice(["bay 4", ""]), "flag": lately, "entry": lately}


def _trained(pick: random.Random, now: Situation) -> dict[str, Any]:
    """The same for what is ordered in a rehearsal."""
    found: dict[str, Any] = {"rate": pick.choice([None, 0, 1, 2.5]), "to_s": pick.choice([None, now.at_s + 60])}
    found |= {"seed": pick.randrange(9), "what": pick.choice(INJECTS), "from_s": None, "by_s": pick.choice([0, 120])}
    return found | {"name": "none", "count": 2, "inject": f"inject-{pick.randint(1, 9)}"}


def _named(values: Iterable[Any]) -> str:
    return next((each.name for each in values), "none")
