"""A run as an event log in XES (IEEE 1849-2016), for tools that look into processes. It opens no file.

The log has one trace, the run. Each step that was done has an event with the transition ``complete`` at its mark, each
one that was begun another with ``start``; a start that was worked out says so. Marks that were taken back are not in
it: the log itself has them. Events stand in the order of their times, as the standard has it (5.1, from memory: the
order of the events of a trace is the order in which they happened).
"""

from collections.abc import Iterable
from datetime import datetime
from xml.etree.ElementTree import Element, SubElement, tostring

from app.core.as_run import AsRunStep
from app.core.signs import shown
from app.core.times import instant
from app.writing.run_record import RunRecord

EXTENSIONS = {
    "Concept": ("concept", "http://www.xes-standard.org/concept.xesext"),
    "Lifecycle": ("lifecycle", "http://www.xes-standard.org/lifecycle.xesext"),
    "Organizational": ("org", "http://www.xes-standard.org/org.xesext"),
    "Time": ("time", "http://www.xes-standard.org/time.xesext"),
}
"""Names, prefixes and addresses of the standard (IEEE 1849-2016, clause 6, from memory). Nothing is fetched there."""

_DEFAULTS = (
    ("string", "concept:name", ""),
    ("string", "lifecycle:transition", "complete"),
    ("date", "time:timestamp", "1970-01-01T00:00:00.000Z"),
)


def xes(record: RunRecord) -> bytes:
    """The file, UTF-8."""
    log = Element("log", {"xes.version": "1849.2016", "xes.features": ""})
    for name, (prefix, uri) in EXTENSIONS.items():
        SubElement(log, "extension", {"name": name, "prefix": prefix, "uri": uri})
    _put(SubElement(log, "global", {"scope": "trace"}), _DEFAULTS[:1])
    _put(SubElement(log, "global", {"scope": "event"}), _DEFAULTS)
    SubElement(log, "classifier", {"name": "Step", "scope": "event", "keys": "concept:name"})
    keys = "concept:name lifecycle:transition"
    SubElement(log, "classifier", {"name": "StepAndTransition", "scope": "event", "keys": keys})
    trace = SubElement(log, "trace")
    _put(trace, _case(record))
    for _, _, values in sorted(_events(record)):
        _put(SubElement(trace, "event"), values)
    made: bytes = tostring(log, encoding="utf-8", xml_declaration=True)
    return made


Values = Iterable[tuple[str, str, str]]
"""The kind of an attribute, its key, its value."""


def _put(to: Element, values: Values) -> None:
    for kind, key, value in values:
        SubElement(to, kind, {"key": key, "value": shown(value)})


def _case(record: RunRecord) -> Values:
    state, procedure = record.situation.state, record.situation.procedure
    yield "string", "concept:name", f"run-{record.run}"
    yield "string", "procedure", procedure.id
    yield "string", "title", procedure.title
    yield "string", "revision", state.revision
    yield "string", "kind", state.kind
    yield "date", "zero", _date(record.zero_utc)
    yield "boolean", "ended", "false" if state.ended_s is None else "true"
    yield "string", "head", record.head


def _events(record: RunRecord) -> Iterable[tuple[int, int, tuple[tuple[str, str, str], ...]]]:
    """(elapsed second, place among those of one second, attributes). A step that took no time begins before it ends."""
    for place, step in enumerate(record.steps):
        if step.start_s is not None and (step.start_known or step.finish_s is not None):
            worked_out = (("boolean", "worked_out", "false" if step.start_known else "true"),)
            yield step.start_s, 2 * place, (*_event(record, step, "start", step.start_s), *worked_out)
        if step.finish_s is not None:
            signed = (("string", "signed_by", step.by),)
            yield step.finish_s, 2 * place + 1, (*_event(record, step, "complete", step.finish_s), *signed)


def _event(record: RunRecord, step: AsRunStep, transition: str, at_s: int) -> Values:
    """The name has the step's id and its words: two steps may have the same words, and an id alone says little.

    The resource is who does the step. Whoever signed the mark may have heard it on the loop.
    """
    yield "string", "concept:name", f"{step.id} {step.do}"
    yield "string", "concept:instance", step.id
    if step.who:
        yield "string", "org:resource", ", ".join(step.who)
    yield "string", "lifecycle:transition", transition
    yield "date", "time:timestamp", _date(record.utc(at_s))
    yield "string", "task", step.task
    yield "int", "elapsed_s", str(at_s)


def _date(at: datetime) -> str:
    """With an offset in place of Z, as the examples of the standard have it (from memory)."""
    return instant(at).replace("Z", "+00:00")
