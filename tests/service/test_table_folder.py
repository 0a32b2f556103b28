"""A folder of procedures in every kind of file: what is loaded, and what is left out with its fault."""

from pathlib import Path

import pytest

from app.service.runs import Service
from app.service.values import Refused
from app.writing.template import template
from tests.reading.workbooks import SMALL as ROWS
from tests.reading.workbooks import set_in, workbook
from tests.service.making import SMALL


def test_tables_of_the_folder_are_loaded_beside_yaml(service: Service, tmp_path: Path) -> None:
    folder = tmp_path / "procedures"
    folder.mkdir()
    (folder / "a.yaml").write_bytes(SMALL)
    (folder / "b.CSV").write_bytes(template("csv"))
    (folder / "c.xlsx").write_bytes(workbook(set_in(ROWS, 5, 5, 8)))
    (folder / "~$c.xlsx").write_bytes(b"in use")
    (folder / "notes.txt").write_text("no procedure")
    first, second, third = service.shelf.load_folder(folder)
    assert (first.name, second.name, third.name) == ("a.yaml", "b.CSV", "c.xlsx")
    assert first.hash is not None
    assert second.hash is not None
    assert third.hash is None
    assert [fault.where for fault in third.faults] == ["Steps!E5"]
    assert {each.procedure for each in service.shelf.revisions()} == {"mast", "my-outing"}


def test_a_table_that_is_refused_leaves_nothing(service: Service) -> None:
    for data in (template("csv").replace(b",20 min,", b",20,"), template("xlsx")[:-100], b"PK\x03\x04"):
        with pytest.raises(Refused):
            service.shelf.load(data, "outing")
    assert service.shelf.revisions() == ()
