"""What the servers of one database tell each other, as topics of `Store.tell`. It tells and hears nothing itself."""

PEOPLE = "people"
"""Somebody was changed, or signed in or out."""
PROCEDURES = "procedures"
"""A procedure was added."""
_RUN = "run "


def of_run(run: int) -> str:
    """A run was opened, or its log has grown."""
    return f"{_RUN}{run}"


def run_of(topic: str) -> int | None:
    """The run that a topic is about; None for any other topic."""
    number = topic.removeprefix(_RUN)
    return int(number) if topic.startswith(_RUN) and number.isdecimal() else None
