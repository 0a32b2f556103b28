"""The shelf of procedures: files in, checked, kept as YAML by hash, each with its plan made once. It knows no run."""

import gc
from pathlib import Path

from sqlalchemy import Connection

from app.core.signs import shown
from app.core.situation import Prepared
from app.reading.faults import PlacedFault
from app.reading.files import SUFFIXES, Kind, kind_of, read_file
from app.reading.opened import beginning
from app.reading.procedure_reader import Reading, read_procedure
from app.reading.yaml_tree import MOST_NODES
from app.service import news
from app.service.values import FileReport, Loaded, Refused
from app.store import library
from app.store.clock import ServerClock
from app.store.faults import NoSuchRevision
from app.store.library import StoredRevision
from app.store.store import Store
from app.writing.files import stored_text


class Shelf:
    """The procedures of one store."""

    def __init__(self, store: Store, clock: ServerClock) -> None:
        self.store = store
        self.clock = clock
        self.files: tuple[FileReport, ...] = ()
        self._prepared: dict[str, Prepared] = {}

    def load(self, data: bytes, source: str, kind: Kind | None = None) -> Loaded:
        """Check a procedure file and put it into the library. The same file twice changes nothing.

        Of a table, CSV or XLSX, the library keeps the YAML text of the same procedure.

        Args:
            kind: what the file is; else it is known by its content and the name `source`.

        Raises:
            Refused: it has faults. StoreFault: it could not be stored.
        """
        source = " ".join(shown(source).split())
        kind = kind or kind_of(data, source)
        try:
            reading = read_procedure(data) if kind == "yaml" else read_file(data, source, kind)
        finally:
            if kind == "xlsx":
                gc.collect()  # What a workbook unfolds to lies in cycles, and the server collects those seldom.
        if reading.procedure is None:
            raise Refused(reading.faults)
        if kind != "yaml" and LEAST_OF_A_STEP * len(reading.procedure.steps) > MOST_NODES:
            raise Refused(
                (PlacedFault(1, 1, TOO_LARGE, "split the file"),)
            )  # At once, and not when it was written out.
        said = stored_text(data, kind, reading.procedure)
        if kind != "yaml":
            _same(said, reading)
        procedure, now = reading.procedure, self.clock.utc()

        def job(conn: Connection) -> tuple[str, bool]:
            name, is_new = library.put(conn, said, procedure.id, procedure.title, source, now)
            if is_new:
                self.store.tell(conn, news.PROCEDURES)
            return name, is_new

        name, is_new = self.store.write(job).result()
        prepared = self._prepared.setdefault(name, Prepared(procedure))
        return Loaded(name, is_new, prepared, reading.faults)

    def load_folder(self, folder: Path) -> tuple[FileReport, ...]:
        """Load each YAML, CSV and XLSX file of a folder; a file with faults is reported, and the rest go on."""
        names = sorted(each for each in folder.glob("*") if _is_procedure(each))
        self.files = tuple(self._load_file(path) for path in names)
        return self.files

    def _load_file(self, path: Path) -> FileReport:
        try:
            loaded = self.load(beginning(path), path.name)
        except Refused as refused:
            return FileReport(path.name, None, refused.faults)
        except OSError as error:
            fault = PlacedFault(1, 1, f"the file could not be read: {error.strerror}", "make it readable")
            return FileReport(path.name, None, (fault,))
        return FileReport(path.name, loaded.hash, loaded.remarks)

    def revisions(self) -> tuple[StoredRevision, ...]:
        """The last loaded first."""
        return self.store.read(library.revisions)

    def revision(self, name: str) -> StoredRevision:
        """By hash, by the beginning of one, or by procedure id (its last loaded revision).

        Raises:
            NoSuchRevision: there is none.
        """
        try:
            return self.store.read(lambda c: library.get(c, name))
        except NoSuchRevision:
            for stored in self.revisions():
                if stored.procedure == name:
                    return stored
            raise

    def prepared(self, stored: StoredRevision) -> Prepared:
        """The procedure of a stored revision with its plan, made once.

        Raises:
            Refused: a text that was sound when it was stored is refused by this Leadline's reader.
        """
        if stored.hash not in self._prepared:
            reading = read_procedure(stored.text)
            if reading.procedure is None:
                raise Refused(reading.faults)
            self._prepared[stored.hash] = Prepared(reading.procedure)
        return self._prepared[stored.hash]


LEAST_OF_A_STEP = 4
"""What it does and what it takes: two keys and two values."""
TOO_LARGE = f"the table can't be kept as YAML: the file would have more than {MOST_NODES:,} keys and values"


def _is_procedure(path: Path) -> bool:
    """By its name. A spreadsheet program marks a workbook that is open with a small file of its own, ``~$name``."""
    return path.suffix.lower() in SUFFIXES and not path.name.startswith("~$") and path.is_file()


def _same(said: str, reading: Reading) -> None:
    """Raises Refused unless the text that is to be kept says what the table said."""
    again = read_procedure(said)
    if again.procedure != reading.procedure:
        what = next((f": {each}" for each in again.faults if not each.remark), "")
        fault = PlacedFault(1, 1, f"the table can't be kept as YAML{what[:300]}", "split the file")
        raise Refused((fault,))
