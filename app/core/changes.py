"""Changes said in a few words, read as the orders that would make them so. It gives no order and supposes nothing.

What a person loses becomes a revised duration of the step that they are at or come to next; everything else is the
order of the same name.
"""

import re
from collections.abc import Callable, Sequence
from typing import TypeVar

from app.core.commands import (
    Command,
    GiveBackWork,
    PutBack,
    PutOff,
    Refusal,
    ReorderTasks,
    ReviseTakes,
    SwapTasks,
    TakeWork,
)
from app.core.procedure import StepId, TaskId
from app.core.situation import Situation
from app.core.times import TimeFault, read_duration

MOST_CHANGES = 10
"""More changes at once than can be thought about. Our own bound, no source."""
LONGEST = 200
"""Characters of one change."""
EXAMPLES = (
    "EV2 loses 15 min",
    "fasten/1 takes 40 min",
    "put off photo-survey",
    "put back photo-survey",
    "take sample-tray",
    "give back sample-tray",
    "swap plug and watch of EV1",
    "move watch before plug of EV1",
)
"""One of each kind, in the words of the shipped sample."""

T = TypeVar("T")


def read(situation: Situation, text: str, reason: str) -> Command:
    """The order that a change in words stands for. Keywords in any case; ids as in the procedure, or a title in full.

    Raises:
        Refusal: it is none of the forms of EXAMPLES, or names nothing that is there.
    """
    said = " ".join(text.split())
    if len(said) > LONGEST:
        raise Refusal("too-long", f"A change is said in {LONGEST} characters at most.")
    refused: Refusal | None = None
    for form, make in _FORMS:
        if found := form.fullmatch(said):
            try:
                return make(situation, found, reason)
            except Refusal as refusal:  # A title may begin like another form: “Take the tray out takes 5 min”.
                refused = refused or refusal
    if refused is not None:
        raise refused
    example = f"“{said[:60]}” is no change that can be tried. Say for example: {'; '.join(EXAMPLES)}."
    raise Refusal("not-understood", example)


def _loses(situation: Situation, found: re.Match[str], reason: str) -> Command:
    person = _named(found["who"], situation.network.crew, str, "person")
    view = situation.person(person)
    if view.next is None:
        raise Refusal("not-in-run", f"{person} has nothing left to do, and so nothing to lose time at.")
    number = situation.network.index[view.next]
    start_s, finish_s = situation.projection.times(number)
    more_s = _seconds(found["time"]) * (-1 if found["way"].lower() == "gains" else 1)
    if start_s >= situation.at_s:
        return ReviseTakes(view.next, max(0, situation.network.takes_s[number] + more_s), reason)
    # Under way: the time is lost or won from the finish that is counted on now, which may be later than planned.
    return ReviseTakes(view.next, max(0, finish_s + more_s - start_s), reason)


def _takes(situation: Situation, found: re.Match[str], reason: str) -> Command:
    return ReviseTakes(_step(situation, found["step"]), _seconds(found["time"]), reason)


def _task_order(make: Callable[[TaskId, str], Command]) -> Callable[[Situation, re.Match[str], str], Command]:
    return lambda situation, found, reason: make(_task(situation, found["task"]), reason)


def _swap(situation: Situation, found: re.Match[str], reason: str) -> Command:
    person = _named(found["who"], situation.network.crew, str, "person")
    return SwapTasks(person, *_pair(situation, found["both"], "and"), reason)


def _move(situation: Situation, found: re.Match[str], reason: str) -> Command:
    """The unbegun tasks from one to the other, the moved one before the other."""
    person = _named(found["who"], situation.network.crew, str, "person")
    task, before = _pair(situation, found["both"], "before")
    own = situation.lists[person]
    for each in (task, before):
        if each not in own:
            raise Refusal("unknown", f"{person} has no task {each} in their list.")
    rest = [each for each in own if each != task]
    place = rest.index(before)
    moved = [*rest[:place], task, *rest[place:]]
    first, last = sorted((own.index(task), moved.index(task)))
    return ReorderTasks(person, tuple(moved[first : last + 1]), reason)


def _pair(situation: Situation, text: str, word: str) -> tuple[TaskId, TaskId]:
    """Two tasks with `word` between them; their titles may hold that word too."""
    joint = f" {word} "
    parts = re.split(joint, text, flags=re.IGNORECASE)
    splits = [(joint.join(parts[:place]), joint.join(parts[place:])) for place in range(1, len(parts))]
    for first, second in splits[:-1]:
        try:
            return _task(situation, first), _task(situation, second)
        except Refusal:
            continue
    first, second = splits[-1]
    return _task(situation, first), _task(situation, second)


def _seconds(text: str) -> int:
    try:
        return read_duration(text)
    except TimeFault as fault:
        raise Refusal("bad-time", f"{fault}: {fault.remedy}.") from fault


def _step(situation: Situation, text: str) -> StepId:
    return _named(text, situation.network.steps, lambda step: step.id, "step", lambda step: step.do).id


def _task(situation: Situation, text: str) -> TaskId:
    return _named(text, situation.procedure.tasks, lambda task: task.id, "task", lambda task: task.title).id


def _named(
    text: str, among: Sequence[T], id_of: Callable[[T], str], kind: str, title_of: Callable[[T], str] | None = None
) -> T:
    """What has this id, or else this title, in any case. Raises Refusal when nothing has, or several."""
    said = text.strip().strip("“”\"'").casefold()
    found = [each for each in among if id_of(each).casefold() == said]
    if not found and title_of is not None:
        found = [each for each in among if title_of(each).casefold() == said]
    if len(found) != 1:
        how_many = "There is more than one" if found else "There is no"
        raise Refusal("unknown", f"{how_many} {kind} “{text.strip()[:60]}”.")
    return found[0]


def _form(text: str) -> re.Pattern[str]:
    return re.compile(text, re.IGNORECASE)


_FORMS: tuple[tuple[re.Pattern[str], Callable[[Situation, re.Match[str], str], Command]], ...] = (
    (_form(r"put off (?P<task>.+)"), _task_order(PutOff)),
    (_form(r"put back (?P<task>.+)"), _task_order(PutBack)),
    (_form(r"take (?P<task>.+)"), _task_order(lambda task, _: TakeWork(task))),
    (_form(r"give back (?P<task>.+)"), _task_order(lambda task, _: GiveBackWork(task))),
    (_form(r"swap (?P<both>.+ and .+) of (?P<who>.+)"), _swap),
    (_form(r"move (?P<both>.+ before .+) of (?P<who>.+)"), _move),
    (_form(r"(?P<who>.+) (?P<way>loses|gains) (?P<time>.+)"), _loses),
    (_form(r"(?P<step>.+) takes (?P<time>.+)"), _takes),
)
