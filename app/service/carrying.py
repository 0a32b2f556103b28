"""The file for the next outing that a run leaves. It changes no run and puts nothing into the library."""

from collections.abc import Iterator
from dataclasses import dataclass

from app.core.carry_notes import LONGEST_HISTORY, NO_OPENING, Source
from app.core.commands import Refusal
from app.core.next_outing import next_outing, replaced
from app.core.procedure import Procedure
from app.core.situation import Situation
from app.core.times import clock
from app.reading.procedure_reader import Reading, read_procedure
from app.writing.yaml_file import yaml_text

_SHORT_HISTORY = 200
"""Where the file would be larger than is read, each note's history is cut to so many characters. Our own, no source."""


@dataclass(frozen=True, slots=True)
class CarriedFile:
    """A procedure and its YAML text, with where it comes from at its top."""

    procedure: Procedure
    text: str


def carried_file(situation: Situation, run: int, following: Procedure | None = None, head: str = "") -> CarriedFile:
    """The procedure file for the next outing; with `following`, the carried work at the head of that.

    It is read back before it is given: it loads, and says what was meant. `head`: that of the run's log, for its top.

    Raises:
        Refusal: the run leaves nothing, or what it leaves makes no file that loads.
    """
    source = Source(run, situation.prepared.base.procedure.id)
    reading = Reading(None, ())
    for longest in (LONGEST_HISTORY, _SHORT_HISTORY):
        made = next_outing(situation.procedure, situation.state, source, following, longest)
        if made is None:
            raise Refusal("nothing-owed", f"Run {run} leaves nothing: there is no file for the next outing.")
        text = yaml_text(made, "\n".join([*_heading(situation, source, made, following), *_kept(run, head)]))
        reading = read_procedure(text)
        if reading.procedure == made:
            return CarriedFile(made, text)
    why = next((f": {fault.what}" for fault in reading.faults if not fault.remark), "")
    raise Refusal("no-file", f"What run {run} leaves makes no procedure that loads{why}. Write the next one by hand.")


def _kept(run: int, head: str) -> Iterator[str]:
    """Lines with which a log that was cut off or changed can be told, as long as this file is kept elsewhere."""
    if head:
        yield f"Log head {head}"
        yield f"Keep this elsewhere: leadline verify {run} --head and this head tell whether the log was changed."


def _heading(situation: Situation, source: Source, made: Procedure, following: Procedure | None) -> Iterator[str]:
    """Lines for whoever plans the next outing."""
    state = situation.state
    until = f"as at {clock(situation.at_s)}" if state.ended_s is None else f"as it ended at {clock(state.ended_s)}"
    yield f"Carried over from {source.words}, {until}, revision {state.revision[:12]}."
    if state.ended_s is None:
        yield "The run had not ended: this is what would carry over if it ended then."
    yield "Open work comes first; what was done of it, and why it was put off, stands in the notes."
    if following is not None:
        yield f"It stands at the head of {following.id}."
        if dropped := replaced(situation.procedure, state, following):
            yield f"Tasks of that file that gave way to what is left of the same work: {', '.join(dropped)}."
    if made.windows:
        yield "Windows are clock positions of the outing that they were written for: set them anew."
    if any(NO_OPENING in step.note for step in made.steps):
        yield "Some steps fit no opening any more: their notes say so, and their window was taken out."
    yield "Check every line before this is used; the approved procedure stands."
