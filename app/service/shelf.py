"""The shelf of procedures: texts in, checked, kept by hash, each with its plan made once. It knows no run."""

from pathlib import Path

from app.core.situation import Prepared
from app.reading.faults import PlacedFault
from app.reading.procedure_reader import read_procedure
from app.service.values import FileReport, Loaded, Refused
from app.store import library
from app.store.clock import ServerClock
from app.store.faults import NoSuchRevision
from app.store.library import StoredRevision
from app.store.store import Store


class Shelf:
    """The procedures of one store."""

    def __init__(self, store: Store, clock: ServerClock) -> None:
        self.store = store
        self.clock = clock
        self.files: tuple[FileReport, ...] = ()
        self._prepared: dict[str, Prepared] = {}

    def load(self, text: bytes, source: str) -> Loaded:
        """Check a procedure text and put it into the library. The same text twice changes nothing.

        Raises:
            Refused: it has faults. StoreFault: it could not be stored.
        """
        reading = read_procedure(text)
        if reading.procedure is None:
            raise Refused(reading.faults)
        said = text.decode("utf-8-sig")
        procedure, now = reading.procedure, self.clock.utc()
        job = self.store.write(lambda c: library.put(c, said, procedure.id, procedure.title, source, now))
        name, is_new = job.result()
        prepared = self._prepared.setdefault(name, Prepared(procedure))
        return Loaded(name, is_new, prepared, reading.faults)

    def load_folder(self, folder: Path) -> tuple[FileReport, ...]:
        """Load each ``*.yaml`` and ``*.yml`` file of a folder; a file with faults is reported, and the rest go on."""
        names = sorted(each for each in folder.glob("*") if each.suffix in {".yaml", ".yml"} and each.is_file())
        self.files = tuple(self._load_file(path) for path in names)
        return self.files

    def _load_file(self, path: Path) -> FileReport:
        try:
            loaded = self.load(path.read_bytes(), path.name)
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
