"""The messages of the live stream as bytes: server-sent events (WHATWG HTML, 9.2). It knows no run and no screen."""

import json
from collections.abc import Mapping
from typing import Any

RETRY = b"retry: 1000\n\n"
"""For readers that come back by themselves, in milliseconds; a page of ours opens its stream anew at its own pace."""


def tick(run: int, data: Mapping[str, Any], seq: int) -> bytes:
    """The figures of the moment."""
    return message("tick", {"run": run, **data}, seq)


def changed(run: int, seq: int, now: Mapping[str, Any]) -> bytes:
    """Word that a log reached `seq`: that of the run, or for HOME that of any run. `now`: the server's clock."""
    return message("changed", {"run": run, "seq": seq, **now}, seq)


def unknown(run: int) -> bytes:
    """The server has no such run, or can read it no more."""
    return message("unknown", {"run": run}, 0)


def beat(now: Mapping[str, Any]) -> bytes:
    """A sign of life of the server, with its time. It has no id, so that the last one stands."""
    return message("beat", dict(now), None)


def message(name: str, data: dict[str, Any], seq: int | None) -> bytes:
    """One server-sent event. JSON has no raw newline, so a text cannot forge a second event."""
    body = json.dumps(data, separators=(",", ":"), ensure_ascii=True, allow_nan=False)
    numbered = "" if seq is None else f"id: {seq}\n"
    return f"event: {name}\n{numbered}data: {body}\n\n".encode()
