"""A run as JSON Lines: a header, then every event as it is stored, so that the file alone shows a whole chain.

`reading.run_lines` has the form and reads it. It opens no file.
"""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from app.core.events import canonical
from app.reading.run_lines import EVENT, FORM, RUN


def run_lines(
    row: Mapping[str, Any], events: Iterable[Mapping[str, Any]], procedure: str, source: str, text: str, head: str
) -> bytes:
    """The file, UTF-8, each line ended with a line feed.

    Args:
        row: the run's row as it was stored where it was made. events: of each its columns, the body as a JSON value.
        procedure, source, text: the id of its procedure, what the file was called, and its text.
        head: ``SEQ:HASH`` of the last event.
    """
    return "".join(f"{line}\n" for line in _lines(row, list(events), procedure, source, text, head)).encode()


def _lines(
    row: Mapping[str, Any], events: list[Mapping[str, Any]], procedure: str, source: str, text: str, head: str
) -> Iterator[str]:
    header = {"leadline": FORM, "run": {name: row[name] for name in RUN}, "procedure": procedure, "source": source}
    # Not with the keys sorted: whoever looks into the file sees first what it is.
    yield _object(header | {"text": text, "events": len(events), "head": head})
    for event in events:
        yield _object({name: event[name] for name in EVENT})


def _object(values: Mapping[str, Any]) -> str:
    return "{" + ",".join(f"{canonical(name)}:{canonical(value)}" for name, value in values.items()) + "}"
