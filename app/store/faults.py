"""The ways in which storage says no, each with a sentence for the person at the screen. It stores nothing."""

LONGEST = 400
"""Signs of a sentence. What is told of a damaged file is cut there: it may hold any length. Our own bound."""


def printable(said: str, longest: int = LONGEST) -> str:
    """The text with what no terminal should be sent written as escapes: a damaged file may hold any sign."""
    return "".join(sign if sign.isprintable() else ascii(sign)[1:-1] for sign in said[:longest])


class StoreFault(Exception):
    """What every refusal of the store has in common: `str()` of it is a sentence to show."""


class StoreFailed(StoreFault):
    """The database could not be written or read. Whether the work is stored is not known: send the same key again."""


class StoreFull(StoreFailed):
    """There is no room on the disk. Nothing of this work was stored."""


class StoreClosed(StoreFault):
    """The store was closed; it takes no more work."""


class DataInUse(StoreFault):
    """Another server owns the data directory."""


class NetworkFolder(StoreFault):
    """The data directory lies on a network file system, where SQLite's locks cannot be trusted."""


class HalfRestored(StoreFault):
    """What a restore that was cut short left in the data directory, or one that is under way."""


class ForeignDatabase(StoreFault):
    """The file is from a newer Leadline, or is not a Leadline database at all."""


class WrongDatabase(StoreFault):
    """The address of a database names none that Leadline can use: of another kind, too old, or of another encoding."""


class NoDatabase(StoreFault):
    """There is no file where a database should be, or an empty one."""


class Damaged(StoreFailed):
    """The file can't be read as a database."""


class RunDamaged(Damaged):
    """What is stored of a run can't be read, though the database can."""


class NotSafe(StoreFault):
    """A change of the tables was refused because it would throw the record away, or no sound backup could be made."""


class NoSuchRevision(StoreFault, LookupError):
    """No revision in the library has this hash, or several begin with it."""


class NoSuchRun(StoreFault, LookupError):
    """No run has this number."""
