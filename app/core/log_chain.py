"""The chain over a run's log: each event's hash takes in the one before it. It reads no log and checks none.

An event's `chain` is hex SHA-256 of the previous chain's 64 hex signs followed by the canonical JSON of
{run, seq, kind, version, body, at_s, logged_s, logged_at, by, station, key}. The chain before the first event is hex
SHA-256 of the canonical JSON of the run's own row, {run, revision, kind, zero_utc, started_at}, all as stored. `run`
is the number that the run had where it was made.
"""

import hashlib
from collections.abc import Mapping
from typing import Any

from app.core.events import canonical


def first_chain(row: Mapping[str, Any]) -> str:
    """The chain before the first event, from the run's stored row (five columns, instants as text)."""
    return hashlib.sha256(canonical(dict(row)).encode()).hexdigest()


def next_chain(before: str, values: Mapping[str, Any], body: Any) -> str:
    """The chain of an event: `values` are its columns, `body` its fields as JSON values, `before` 64 hex signs."""
    counted = {name: value for name, value in values.items() if name != "chain"} | {"body": body}
    return hashlib.sha256((before + canonical(counted)).encode()).hexdigest()
