"""What makes a procedure sound: one function for each rule. It mends nothing and reads no file.

Rules run in three stages. Names, numbers and order are judged always; the timeline only when those are right; and
remarks only when nothing is wrong. `unread` tells of parts of a file that could not be read, so that one mistake
there is not told again as a hundred names that are missing.
"""

from collections.abc import Collection, Iterator
from itertools import islice

from app.core.checking_names import (
    Rule,
    crew_known,
    links,
    named_people,
    no_name_twice,
    no_tool_twice,
    no_value_twice,
    nobody_twice,
    step_numbers_known,
    steps_with_paths,
    tasks_known,
    tools_known,
    windows_known,
)
from app.core.checking_order import no_circle, no_wait_for_itself, not_too_many_links, not_too_many_workers
from app.core.network import build
from app.core.passes import Timeline, plan
from app.core.procedure import Fault, Procedure, Span, Task
from app.core.quoting import quoted
from app.core.times import clock, duration

MOST_FAULTS = 100
MOST_COUNT = 1_000
"""The most like actions in one step. Our own bound, no source."""


def check(procedure: Procedure, unread: Collection[str] | None = None) -> tuple[Fault, ...]:
    """What is wrong with a procedure, and if nothing is, what is worth a remark. At most `MOST_FAULTS` of them.

    Args:
        unread: None if the procedure is whole; else the parts of it that could not be read (``tasks``, ``crew``,
            ``windows``, ``tools``, or none of them). Names are then not looked for there, nor the timeline judged.
    """
    missing = frozenset(unread or ())
    rules = [rule for rule, needs in _RULES if not needs & missing]
    faults = tuple(islice((fault for rule in rules for fault in rule(procedure)), MOST_FAULTS))
    if faults or unread is not None:
        return faults
    network = build(procedure)
    timeline = plan(network)
    misses = tuple(islice(_no_opening(procedure, timeline), MOST_FAULTS))
    if misses:
        return misses
    return tuple(islice(_remarks(procedure, timeline), MOST_FAULTS))


def _some_work(procedure: Procedure) -> Iterator[Fault]:
    if not procedure.tasks:
        yield Fault(("tasks",), "there are no tasks", "add one, with a step in it")
    for place, task in enumerate(procedure.tasks):
        if not task.steps:
            yield Fault(
                ("tasks", place, "steps"), f"the task {quoted(task.id)} has no steps", "add one, or take it out"
            )


def _three_points_ordered(procedure: Procedure) -> Iterator[Fault]:
    for path, _, step in steps_with_paths(procedure):
        low, high = step.takes.optimistic_s, step.takes.pessimistic_s
        if low is not None and high is not None and not low <= step.takes.likely_s <= high:
            what = f"{duration(low)}, {duration(step.takes.likely_s)}, {duration(high)} do not rise"
            yield Fault((*path, "takes"), what, "write optimistic, likely, pessimistic in this order")


def _record_ordered(procedure: Procedure) -> Iterator[Fault]:
    for path, _, step in steps_with_paths(procedure):
        for value in step.record:
            if value.low is not None and value.high is not None and value.low > value.high:
                what = f"{quoted(value.name)} is to lie from {value.low:g} to {value.high:g}"
                yield Fault((*path, "record", value.name), what, "write the lower value after from")


def _count_in_range(procedure: Procedure) -> Iterator[Fault]:
    for path, _, step in steps_with_paths(procedure):
        if step.count is not None and not 1 <= step.count <= MOST_COUNT:
            remedy = f"write a count from 1 to {MOST_COUNT:,}"
            yield Fault((*path, "count"), f"a step cannot be counted to {step.count:,}", remedy)


def _rounds_come_back(procedure: Procedure) -> Iterator[Fault]:
    for place, one_round in enumerate(procedure.rounds):
        if one_round.every_s <= 0:
            what = f"the round {quoted(one_round.name)} comes back after no time"
            yield Fault(("rounds", place, "every"), what, "write how much time lies between, for example 60 min")


def _spread_ordered(procedure: Procedure) -> Iterator[Fault]:
    low, likely, high = procedure.spread
    if not 0 < low <= likely <= high:
        remedy = "write three rising factors above 0, for example [0.8, 1, 1.6]"
        yield Fault(("spread",), f"{low:g}, {likely:g}, {high:g} is not a spread", remedy)


def _spans_ordered(procedure: Procedure) -> Iterator[Fault]:
    for window in procedure.windows:
        for number, span in enumerate(window.spans):
            path = ("windows", window.name, number)
            before = window.spans[number - 1] if number else Span(0, 0)
            if span.closes_s <= span.opens_s:
                what = f"an opening of {quoted(window.name)} closes at {clock(span.closes_s)}, not after it opens"
                yield Fault(path, what, "write when it opens, then when it closes")
            elif span.opens_s < before.closes_s:
                what = f"an opening of {quoted(window.name)} begins at {clock(span.opens_s)}, before the last has ended"
                yield Fault(path, what, "put the openings in order, and join those that overlap")


def _fits_some_opening(procedure: Procedure) -> Iterator[Fault]:
    longest = {
        window.name: max((span.closes_s - span.opens_s for span in window.spans), default=0)
        for window in procedure.windows
    }
    for path, _, step in steps_with_paths(procedure):
        takes = step.takes.likely_s
        if step.within in longest and longest[step.within] < takes:
            what = f"{step.id} takes {duration(takes)}, longer than any opening of {quoted(step.within)}"
            remedy = f"divide the step: the longest opening is {duration(longest[step.within])}"
            yield Fault((*path, "takes"), what, remedy)


def _another_confirms(procedure: Procedure) -> Iterator[Fault]:
    for path, _, step in steps_with_paths(procedure):
        if step.confirm_by is not None and step.who == (step.confirm_by,):
            what = f"{quoted(step.confirm_by)} would confirm their own step"
            yield Fault((*path, "confirm_by"), what, "name a second person")


def _worth_goes_with_putting_off(procedure: Procedure) -> Iterator[Fault]:
    for place, task in enumerate(procedure.tasks):
        if task.worth and not task.may_put_off:
            yield Fault(
                ("tasks", place, "worth"),
                f"{quoted(task.id)} has a worth, but may not be put off",
                "add may_put_off: true, or take worth out",
            )
        if task.may_put_off and not 1 <= task.worth <= 9:
            what = f"{quoted(task.id)} may be put off, but its worth is not known"
            yield Fault(("tasks", place, "may_put_off"), what, "add worth: with a number from 1 to 9")


def _one_kind_of_optional(procedure: Procedure) -> Iterator[Fault]:
    for place, task in enumerate(procedure.tasks):
        if task.get_ahead and task.may_put_off:
            what = f"{quoted(task.id)} is a get-ahead item and may be put off"
            remedy = "keep one: a get-ahead item is not in the plan, so there is nothing to put off"
            yield Fault(("tasks", place, "get_ahead"), what, remedy)


def _close_out_must_be_done(procedure: Procedure) -> Iterator[Fault]:
    for place, task in enumerate(procedure.tasks):
        if task.id != procedure.limits.close_out:
            continue
        if task.get_ahead:
            what = f"the close-out {quoted(task.id)} is a get-ahead item"
            yield Fault(("tasks", place, "get_ahead"), what, "take get_ahead out: the close-out must be done")
        if task.may_put_off:
            what = f"the close-out {quoted(task.id)} may be put off"
            yield Fault(("tasks", place, "may_put_off"), what, "take may_put_off out: the close-out must be done")


def _no_wait_for_get_ahead(procedure: Procedure) -> Iterator[Fault]:
    extra = {task.id for task in procedure.tasks if task.get_ahead}
    for path, task, _, link in links(procedure):
        if link.task in extra and not task.get_ahead:
            what = f"{quoted(task.id)} waits for the get-ahead item {quoted(link.task)}, which may never be done"
            yield Fault(path, what, f"take this out, or take get_ahead out of {quoted(link.task)}")


def _no_opening(procedure: Procedure, timeline: Timeline) -> Iterator[Fault]:
    places = {step.id: (path, task) for path, task, step in steps_with_paths(procedure)}
    for number in sorted(timeline.misses):
        step = procedure.steps[number]
        path, task = places[step.id]
        start = clock(timeline.times(number)[0])
        what = f"{step.id} can start at {start} at the earliest, and no opening of {quoted(step.within or '')} is left"
        at = path[:2] if step.within == task.within else path
        yield Fault((*at, "within"), what, "add an opening, shorten what comes before, or take within out")


def _remarks(procedure: Procedure, timeline: Timeline) -> Iterator[Fault]:
    yield from _finish_remark(procedure, timeline)
    yield from _idle_remarks(procedure)
    yield from _needed_remarks(procedure)


def _finish_remark(procedure: Procedure, timeline: Timeline) -> Iterator[Fault]:
    limit = procedure.limits.finish_s
    if limit is not None and timeline.end_s > limit:
        what = f"the plan finishes at {clock(timeline.end_s)}, {duration(timeline.end_s - limit)} after the limit"
        yield Fault(("limits", "finish"), what, "shorten the plan, or move the limit", remark=True)


def _idle_remarks(procedure: Procedure) -> Iterator[Fault]:
    busy = {person for step in procedure.steps for person in step.who}
    busy.update(step.confirm_by for step in procedure.steps if step.confirm_by)
    busy.update(person for _, people in named_people(procedure) for person in people)
    for person in procedure.crew:
        if person.designator not in busy:
            what = f"{quoted(person.designator)} has no step"
            yield Fault(("crew", person.designator), what, "give them one, or take them out", remark=True)


def _needed_remarks(procedure: Procedure) -> Iterator[Fault]:
    tasks: dict[str, Task] = {task.id: task for task in procedure.tasks}
    for path, task, _, link in links(procedure):
        optional = task.may_put_off or task.get_ahead or task.id == procedure.limits.close_out
        if tasks[link.task].may_put_off and not optional:
            what = f"{quoted(task.id)} must be done and waits for {quoted(link.task)}, so that can never be put off"
            yield Fault(path, what, f"take this out, or may_put_off out of {quoted(link.task)}", remark=True)


_RULES: tuple[tuple[Rule, frozenset[str]], ...] = (
    (_some_work, frozenset({"tasks"})),
    (no_name_twice, frozenset()),
    (no_tool_twice, frozenset()),
    (no_value_twice, frozenset()),
    (nobody_twice, frozenset()),
    (crew_known, frozenset({"crew"})),
    (tasks_known, frozenset({"tasks"})),
    (step_numbers_known, frozenset({"tasks"})),
    (windows_known, frozenset({"windows"})),
    (tools_known, frozenset({"tools"})),
    (no_wait_for_itself, frozenset()),
    (not_too_many_links, frozenset()),
    (not_too_many_workers, frozenset()),
    (no_circle, frozenset({"crew", "tasks"})),
    (_three_points_ordered, frozenset()),
    (_record_ordered, frozenset()),
    (_count_in_range, frozenset()),
    (_rounds_come_back, frozenset()),
    (_spread_ordered, frozenset()),
    (_spans_ordered, frozenset()),
    (_fits_some_opening, frozenset({"windows"})),
    (_another_confirms, frozenset()),
    (_worth_goes_with_putting_off, frozenset()),
    (_one_kind_of_optional, frozenset()),
    (_close_out_must_be_done, frozenset()),
    (_no_wait_for_get_ahead, frozenset()),
)
"""Each rule, and the parts of a file that must have been read whole for it to mean anything."""
