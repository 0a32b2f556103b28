"""The head of a run's log on what leaves the server. It reads the log and changes nothing."""

from typing import Any

from app.core.heads import head_of
from app.web.depends import Shell

HEAD = "X-Leadline-Head"
HEADERS: dict[str, Any] = {
    HEAD: {
        "description": "The head of the run's log, `SEQ:HASH`: kept elsewhere, it shows whether the log was changed.",
        "schema": {"type": "string"},
    }
}
"""How a route describes the header."""


def log_head(shell: Shell, run: int) -> str:
    """``SEQ:HASH`` of the log as it is now; empty for a log without events. Raises NoSuchRun."""
    return head_of(shell.service.run(run).log)
