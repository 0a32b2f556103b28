"""The ways in which storage says no, each with a sentence for the person at the screen. It stores nothing."""


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


class ForeignDatabase(StoreFault):
    """The file is from a newer Leadline, or is not a Leadline database at all."""


class NotSafe(StoreFault):
    """A change of the tables was refused because it would throw the record away, or no sound backup could be made."""


class NoSuchRevision(StoreFault, LookupError):
    """No revision in the library has this hash, or several begin with it."""


class NoSuchRun(StoreFault, LookupError):
    """No run has this number."""
