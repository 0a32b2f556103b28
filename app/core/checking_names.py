"""Rules on names: nothing is named twice, and every name that is used is there. It knows no times."""

import re
from collections.abc import Callable, Collection, Iterable, Iterator
from difflib import get_close_matches

from app.core.procedure import After, Designator, Fault, Procedure, Step, Task
from app.core.quoting import quoted

Path = tuple[str | int, ...]
Rule = Callable[[Procedure], Iterator[Fault]]

_BETWEEN = re.compile(r"[\s,;/&+]+(?:and\s+)?")
"""What people write between names where a list is asked for."""

_MOST_COMPARED = 500
_LONGEST_COMPARED = 64
"""A likeness is looked for among at most this many names: comparing thousands with thousands takes seconds."""


def steps_with_paths(procedure: Procedure) -> Iterator[tuple[Path, Task, Step]]:
    """Every step, with its path in the file and its task."""
    for place, task in enumerate(procedure.tasks):
        for number, step in enumerate(task.steps):
            yield ("tasks", place, "steps", number), task, step


def links(procedure: Procedure) -> Iterator[tuple[Path, Task, Step | None, After]]:
    """Every prerequisite where the file gives it: of a task (no step), else of a step."""
    for place, task in enumerate(procedure.tasks):
        for number, link in enumerate(task.after):
            yield ("tasks", place, "after", number), task, None, link
    for path, task, step in steps_with_paths(procedure):
        for number, link in enumerate(own_after(task, step)):
            yield (*path, "after", number), task, step, link


def own_after(task: Task, step: Step) -> tuple[After, ...]:
    """A step's prerequisites without those that its task's first step carries for the task."""
    carried = len(task.after)
    return step.after[carried:] if step.number == 1 and step.after[:carried] == task.after else step.after


def named_people(procedure: Procedure) -> Iterator[tuple[Path, tuple[Designator, ...]]]:
    """Every list of people in the file, a step's only where it is not its task's."""
    for place, task in enumerate(procedure.tasks):
        yield ("tasks", place, "who"), task.who
    for path, task, step in steps_with_paths(procedure):
        if step.who != task.who:
            yield (*path, "who"), step.who
        yield (*path, "hold", "go"), step.go
    for place, supply in enumerate(procedure.supplies):
        yield ("supplies", place, "who"), supply.who
    for place, one_round in enumerate(procedure.rounds):
        yield ("rounds", place, "who"), one_round.who


def like(word: str, known: Iterable[str]) -> str:
    """``; did you mean “x”?`` for the known name that is most like `word`, else nothing."""
    names = [name for name in known if len(name) <= _LONGEST_COMPARED][:_MOST_COMPARED]
    folded = {name.casefold(): name for name in names}
    if word.casefold() in folded:
        return f"; did you mean {quoted(folded[word.casefold()])}?"
    close = get_close_matches(word[:_LONGEST_COMPARED], names, n=1)
    return f"; did you mean {quoted(close[0])}?" if close else ""


def no_name_twice(procedure: Procedure) -> Iterator[Fault]:
    tables: tuple[tuple[str, str, tuple[str, ...], bool], ...] = (
        ("tasks", "task", tuple(task.id for task in procedure.tasks), False),
        ("crew", "crew member", tuple(person.designator for person in procedure.crew), True),
        ("windows", "window", tuple(window.name for window in procedure.windows), True),
        ("rounds", "round", tuple(each.name for each in procedure.rounds), False),
        ("supplies", "supply", tuple(supply.name for supply in procedure.supplies), False),
    )
    for key, kind, names, by_name in tables:
        for place in _repeated(names):
            path: Path = (key, names[place]) if by_name else (key, place, kind)
            yield Fault(path, f"the {kind} {quoted(names[place])} is there twice", "give each its own name")


def no_tool_twice(procedure: Procedure) -> Iterator[Fault]:
    lists: list[tuple[Path, tuple[str, ...]]] = [(("tools",), procedure.tools)]
    lists += [(("tasks", place, "needs"), task.needs) for place, task in enumerate(procedure.tasks)]
    for path, names in lists:
        for place in _repeated(names):
            yield Fault((*path, place), f"{quoted(names[place])} is listed twice", "take one of them out")


def no_value_twice(procedure: Procedure) -> Iterator[Fault]:
    for path, _, step in steps_with_paths(procedure):
        names = tuple(value.name for value in step.record)
        for place in _repeated(names):
            what = f"the value {quoted(names[place])} is recorded twice in one step"
            yield Fault((*path, "record", names[place]), what, "give each its own name")


def nobody_twice(procedure: Procedure) -> Iterator[Fault]:
    for path, people in named_people(procedure):
        for place in _repeated(people):
            yield Fault((*path, place), f"{quoted(people[place])} is named twice", "take one of them out")


def crew_known(procedure: Procedure) -> Iterator[Fault]:
    known = [person.designator for person in procedure.crew]
    uses = [((*path, place), one) for path, people in named_people(procedure) for place, one in enumerate(people)]
    uses += [
        ((*path, "confirm_by"), step.confirm_by)
        for path, _, step in steps_with_paths(procedure)
        if step.confirm_by is not None
    ]
    if not known and uses:
        names = ", ".join(dict.fromkeys(one for _, one in uses))
        yield Fault(("crew",), f"there is no crew, and the steps name {quoted(names)}", "add crew: with each of them")
        return
    seen = set(known)
    for path, one in uses:
        if one not in seen:
            several = [each for each in _BETWEEN.split(one) if each]
            if len(several) > 1 and seen.issuperset(several):
                remedy = f"write a list: [{', '.join(several)}], or in a table {'; '.join(several)}"
            else:
                remedy = f"name one of the crew, or add it to crew{like(one, known)}"
            yield Fault(path, f"{quoted(one)} is not in the crew", remedy)


def tasks_known(procedure: Procedure) -> Iterator[Fault]:
    tasks = {task.id: task for task in procedure.tasks}
    for path, _, _, link in links(procedure):
        if link.task not in tasks:
            yield Fault(
                path, f"there is no task {quoted(link.task)}", f"name a task of this file{like(link.task, tasks)}"
            )
    close_out = procedure.limits.close_out
    if close_out is not None and close_out not in tasks:
        remedy = f"name a task of this file{like(close_out, tasks)}"
        yield Fault(("limits", "close_out"), f"there is no task {quoted(close_out)}", remedy)


def step_numbers_known(procedure: Procedure) -> Iterator[Fault]:
    tasks = {task.id: task for task in procedure.tasks}
    for path, _, _, link in links(procedure):
        if link.task in tasks and link.step is not None:
            count = len(tasks[link.task].steps)
            if not 1 <= link.step <= count:
                what = f"the task {quoted(link.task)} has no step {link.step}"
                yield Fault(path, what, f"it has {count}, counted from 1")


def windows_known(procedure: Procedure) -> Iterator[Fault]:
    known = {window.name: window for window in procedure.windows}
    uses = [(("tasks", place, "within"), task.within) for place, task in enumerate(procedure.tasks)]
    found: list[tuple[Path, str | None]] = [*uses]
    found += [
        ((*path, "within"), step.within)
        for path, task, step in steps_with_paths(procedure)
        if step.within != task.within
    ]
    for path, name in found:
        if name is not None and name not in known:
            remedy = f"name one of windows, or add it there{like(name, known)}"
            yield Fault(path, f"there is no window {quoted(name)}", remedy)


def tools_known(procedure: Procedure) -> Iterator[Fault]:
    if not procedure.tools:
        return
    known: Collection[str] = frozenset(procedure.tools)
    for place, task in enumerate(procedure.tasks):
        for number, tool in enumerate(task.needs):
            if tool not in known:
                remedy = f"name one of tools, or add it there{like(tool, procedure.tools)}"
                yield Fault(("tasks", place, "needs", number), f"{quoted(tool)} is not among the tools", remedy)


def _repeated(names: tuple[str, ...]) -> list[int]:
    seen: set[str] = set()
    places = []
    for place, name in enumerate(names):
        if name in seen:
            places.append(place)
        seen.add(name)
    return places
