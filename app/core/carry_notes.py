"""What a run did of the work that it leaves, as the words of the carried steps' notes. It moves no work.

Each thing said is a line of its own before what the note said already. Lines that an earlier run wrote are kept when
the step that had them is done.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from app.core.procedure import Procedure, Step, Task
from app.core.signs import FORBIDDEN
from app.core.state import State
from app.core.times import clock, duration
from app.core.words_live import reading_words

LONGEST_TEXT = 4_000
"""As long as a text of a file may be (`reading.yaml_tree`; a test holds them together)."""
LONGEST_HISTORY = 2_000
"""A note is read before a step; what a run has to say in it is cut here, and says so. Our own bound, no source."""
LONGEST_NAME = 80
"""The words of a step that is done are cut here. Our own bound, no source."""
SHORTENED = " … (shortened: the run's log and procedure have the rest)"
NO_OPENING = "no opening is left for it"
_DONE_BEFORE = "Done before, "
_ENDS = (".", "!", "?", "…")


@dataclass(frozen=True, slots=True)
class Source:
    """The run that leaves the work: its number, and the id of its procedure."""

    run: int
    procedure: str

    @property
    def words(self) -> str:
        return f"run {self.run} of {self.procedure}"


def clean(text: str) -> str:
    """On one line, and without signs that no file may hold."""
    return " ".join(FORBIDDEN.sub(" ", text).split())


def cut(text: str, longest: int) -> str:
    """At most so many characters; what is shortened says so."""
    return text if len(text) <= longest else f"{text[: longest - len(SHORTENED)].rstrip()}{SHORTENED}"


def with_history(said: Sequence[str], note: str, longest: int) -> str:
    """The note with these lines before it, which take at most `longest` characters; it all fits into a text."""
    history = "\n".join(said)
    if not history:
        return note
    history = cut(history, longest)
    if not note:
        return history
    return f"{history}\n{cut(note, LONGEST_TEXT - 1 - len(history))}"


def task_words(task: Task, state: State, source: Source) -> Iterator[str]:
    """Lines for the first step that is left: what was done of all of `task`, now and before; why it was put off."""
    if done := "; ".join(_done_words(task, state)):
        yield f"{_DONE_BEFORE}{source.words}: {_sentence(done)}"
    for step in task.steps:
        if step.id in state.done or step.id in state.not_needed:
            yield from (line for line in step.note.splitlines() if line.startswith(_DONE_BEFORE))
    if task.id in state.put_off:
        yield f"Put off in {source.words}: {_sentence(clean(state.put_off[task.id]))}"


def _done_words(task: Task, state: State) -> Iterator[str]:
    for step in task.steps:
        name = f"step {step.number} {_named(step.do)}"
        if step.id in state.done:
            mark = state.done[step.id]
            yield f"{name} at {clock(mark.at_s)}{reading_words(step, mark.values)}"
        elif step.id in state.not_needed:
            yield f"{name} was not needed ({clean(state.not_needed[step.id])})"


def _named(text: str) -> str:
    line = clean(text)
    return f"“{line}”" if len(line) <= LONGEST_NAME else f"“{line[:LONGEST_NAME].rstrip()}…”"


def step_words(step: Step, procedure: Procedure, state: State, source: Source) -> Iterator[str]:
    """Lines for a step that is left: how far it is, what was found out about it, and what the next outing drops."""
    said = [*_progress_words(step, state), *_dropped_words(step, procedure, state)]
    if said:
        yield f"In {source.words}: {'; '.join(said)}."
    for note in state.notes.get(step.id, ()):
        yield f"Noted in {source.words} at {clock(note.at_s)}: {_sentence(clean(note.text))}"


def _progress_words(step: Step, state: State) -> Iterator[str]:
    if step.id in state.started:
        yield f"begun at {clock(state.started[step.id])} and not finished"
    actions = state.progress.counts.get(step.id, ())
    if actions and step.count is not None:
        last = clock(actions[-1].at_s)
        yield f"{len(actions)} of {step.count} done by {last}, and “takes” is still that of all {step.count}"
    if step.id in state.progress.called:
        call = state.progress.called[step.id]
        yield f"called complete at {clock(call.at_s)}{reading_words(step, call.values)}, but that was left open"
    if step.id in state.takes:
        yield f"{duration(state.takes[step.id])} was counted on, and “takes” is still the procedure's"


def _dropped_words(step: Step, procedure: Procedure, state: State) -> Iterator[str]:
    if step.not_before_s:
        yield f"it was not to begin before {clock(step.not_before_s)} of that outing's clock"
    close_out = procedure.limits.close_out
    if close_out is None or close_out == step.task:
        return
    links = procedure.step(step.id).after
    ended = all(each.id in state.done for each in procedure.task(close_out).steps)
    if not ended and any(link.task == close_out for link in links):
        yield f"it was to come after {close_out}"


def window_words(step: Step) -> str:
    """The line for a step whose window was taken from it."""
    return f"It is to be done within “{clean(step.within or '')}”, but {NO_OPENING}: set the window anew."


def _sentence(text: str) -> str:
    return text if text.endswith(_ENDS) else f"{text}."
