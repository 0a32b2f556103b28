"""The text of a procedure with other durations, and nothing else changed: comments, order and quotes stay as they are.

It edits the text where a duration stands, reads the whole anew, and gives nothing that says more than was asked. It
stores nothing.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from difflib import unified_diff

from app.core.procedure import Procedure, Step, StepId, Takes
from app.reading.faults import PlacedFault
from app.reading.procedure_reader import read_procedure
from app.reading.yaml_spans import Path, ScalarSpan, scalar_spans
from app.writing.yaml_file import duration_text

_Edit = tuple[ScalarSpan, str]


class NotRevised(ValueError):
    """The text can't be given these durations. ``str()`` says why; `faults` are those of the text that came of it.

    `step`: the one whose duration is in the way; empty where it is no step's own.
    """

    def __init__(self, sentence: str, faults: tuple[PlacedFault, ...] = (), step: StepId = "") -> None:
        super().__init__(sentence)
        self.faults, self.step = faults, step


@dataclass(frozen=True, slots=True)
class Revision:
    """The new text, and the procedure that it says."""

    text: str
    procedure: Procedure


def revised(text: str, takes: Mapping[StepId, Takes]) -> Revision:
    """The YAML text `text` of a sound procedure, with these steps taking so long.

    Raises:
        NotRevised: a step is not in it, its duration is written in a way that can't be edited, or the procedure would
            have a fault.
    """
    old = read_procedure(text).procedure
    if old is None:
        raise NotRevised("The text has faults of its own; mend those first.")
    new = _edited(text, _edits(text, old, takes))
    reading = read_procedure(new)
    wanted = _with(old, takes)
    if reading.procedure is None:
        faults = tuple(fault for fault in reading.faults if not fault.remark)
        raise NotRevised(f"With these durations the procedure has a fault: {faults[0]}.", faults)
    if reading.procedure != wanted:
        raise NotRevised("The text can't be edited so that only its durations change. Edit it by hand.")
    return Revision(new, wanted)


def difference(old: str, new: str, old_name: str, new_name: str) -> str:
    """The lines that differ, with three about them, as a unified diff; empty where nothing does."""
    was, now = (each.removesuffix("\n").split("\n") for each in (old, new))  # Not at every sign that ends a line.
    return "".join(f"{line}\n" for line in unified_diff(was, now, old_name, new_name, lineterm=""))


def _with(procedure: Procedure, takes: Mapping[StepId, Takes]) -> Procedure:
    return replace(
        procedure,
        tasks=tuple(
            replace(task, steps=tuple(replace(step, takes=takes.get(step.id, step.takes)) for step in task.steps))
            for task in procedure.tasks
        ),
    )


def _edits(text: str, procedure: Procedure, takes: Mapping[StepId, Takes]) -> list[_Edit]:
    spans, left = scalar_spans(text), dict(takes)
    found: list[_Edit] = []
    for path, step in _places(procedure):
        wanted = left.pop(step.id, step.takes)
        if wanted != step.takes:
            found += _edits_of(spans, path, step, wanted)
    if left:
        raise NotRevised(f"There is no step {next(iter(left))[:80]} in this procedure.")
    return found


def _places(procedure: Procedure) -> Iterator[tuple[Path, Step]]:
    """Each step with the place of its duration. A file has its tasks and steps in the order in which they are read."""
    for number, task in enumerate(procedure.tasks):
        for place, step in enumerate(task.steps):
            yield ("tasks", number, "steps", place, "takes"), step


def _edits_of(spans: Mapping[Path, ScalarSpan], path: Path, step: Step, wanted: Takes) -> Iterator[_Edit]:
    """One duration becomes a list of three; of three that stand there already each is edited in its place."""
    texts = [duration_text(each) for each in _points(wanted)]
    at = [spans.get(each) for each in ((path,) if path in spans else tuple((*path, part) for part in range(3)))]
    places = [each for each in at if each is not None and each.style not in ("|", ">")]
    if len(places) != len(at):
        raise NotRevised(
            f"The duration of {step.id} stands in the text as a block. Write it on one line first.", step=step.id
        )
    if len(places) == 1:
        yield places[0], texts[0] if len(texts) == 1 else f"[{', '.join(texts)}]"
    elif len(texts) == len(places):
        yield from ((place, f"{place.style}{text}{place.style}") for place, text in zip(places, texts, strict=True))
    else:
        raise NotRevised(f"{step.id} has three durations, and can't be given one.", step=step.id)


def _points(takes: Takes) -> tuple[int, ...]:
    if takes.optimistic_s is None or takes.pessimistic_s is None:
        return (takes.likely_s,)
    return takes.optimistic_s, takes.likely_s, takes.pessimistic_s


def _edited(text: str, edits: list[_Edit]) -> str:
    """From the end of the text, so that places before an edit stay where they are."""
    for span, new in sorted(edits, key=lambda each: each[0].begin, reverse=True):
        text = f"{text[: span.begin]}{new}{text[span.end :]}"
    return text
