"""What PostgreSQL's errors mean, by their SQLSTATE (appendix A of its manual). The driver need not be there."""

from typing import Any

from sqlalchemy.exc import DBAPIError

from app.store.dialect import Contended
from app.store.faults import StoreFailed, StoreFault, StoreFull, printable

_AGAIN = frozenset({"40001", "40P01"})
"""serialization_failure, deadlock_detected."""
_FULL = "53100"
_LOST = frozenset({"57P01", "57P02", "57P03", "57P05", "25P03", "25P04"})
"""The server stops or starts, or ended a session that was idle too long."""
_FATAL = {
    "25006": "The database that answers is a copy that only reads",
    "53200": "The database is out of memory",
    "53300": "The database takes no more connections",
    "53400": "The database is at one of its limits",
    "55P03": "Another server of this database holds what was to be written",
    "57014": "The database took too long",
    "57P04": "The database was removed",
}
_FATAL_CLASSES = {
    "08": "The connection to the database was lost",
    "28": "The database lets this server in no more",
    "3D": "The database is not there",
    "42": "The database may not be used so",
    "58": "The disk of the database reported an error",
    "XX": "The database is damaged",
}
_OF_A_STATEMENT = frozenset({"42601", "42703", "42883", "42804", "42P10"})
"""Mistakes of ours in a statement; everything else in class 42 is a table or a right that was taken away."""


def is_of_postgres(error: BaseException) -> bool:
    """Whether it came from the driver of PostgreSQL."""
    inner = error.orig if isinstance(error, DBAPIError) else error
    return any(kind.__module__.partition(".")[0] == "psycopg" for kind in type(inner).__mro__)


def postgres_failure_of(error: BaseException) -> StoreFailed | None:
    """The fault for an error of the database as a whole; None for one of a single statement, such as a constraint."""
    if isinstance(error, StoreFailed):
        return error
    if not is_of_postgres(error):
        return None
    inner: Any = error.orig if isinstance(error, DBAPIError) else error
    state, said = getattr(inner, "sqlstate", None), words_of(inner)
    if state in _AGAIN:
        return Contended(
            f"Another server of this database stood in the way ({said}). Nothing was stored: send it again."
        )
    if state == _FULL:
        return StoreFull("The database's disk is full: nothing was stored. Make room on it, then send it again.")
    if is_lost(error):
        return StoreFailed(f"The database can't be reached ({said}). It may or may not be stored: send it again.")
    words = None if state in _OF_A_STATEMENT else _FATAL.get(state or "", _FATAL_CLASSES.get((state or "")[:2]))
    return None if words is None else StoreFailed(f"{words} ({said}). It may not be stored: send it again.")


def is_lost(error: BaseException) -> bool:
    """Whether the connection is gone, or none could be made: the database may be there again in a moment."""
    inner: Any = error.orig if isinstance(error, DBAPIError) else error
    state = getattr(inner, "sqlstate", None)
    if state is None:
        # Of the driver itself: there was no answer that could have had a code.
        return any(kind.__name__ in ("OperationalError", "InterfaceError") for kind in type(inner).__mro__)
    return state in _LOST or state.startswith("08")


def statement_fault_of(error: BaseException) -> StoreFault | None:
    """The refusal of a value that PostgreSQL has no place for and SQLite has; None for any other error."""
    inner = error.orig if isinstance(error, DBAPIError) else error
    if is_of_postgres(error) and type(inner).__name__ == "DataError" and "NUL" in str(inner):
        return StoreFault("A text with the sign NUL (U+0000) can't be kept in this database. Nothing was stored.")
    return None


def words_of(error: BaseException) -> str:
    """What the database, or its driver, said: in one line."""
    inner = error.orig if isinstance(error, DBAPIError) else error
    return printable(" ".join(str(inner).split())) or type(inner).__name__
