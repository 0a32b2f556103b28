"""`leadline export`, `import` and `calendar`: runs out of one data folder and into another, from the command line."""

import re
from pathlib import Path

import icalendar
import pytest

from app.reading.run_lines import read_run_lines
from app.service.runs import Service
from tests.served import called
from tests.service.making import SMALL, SetClock, store
from tests.service.recorded import recorded


@pytest.fixture
def run(tmp_path: Path) -> int:
    """A run that has ended, in a data folder that nobody has open."""
    clock = SetClock()
    with store(tmp_path) as opened:
        return recorded(Service(opened, clock.server()), clock)


def test_a_run_goes_from_one_folder_to_another_and_verifies_by_the_head_that_was_told(tmp_path: Path, run: int) -> None:
    out = called("export", run, "--as", "jsonl", "--to", "run.jsonl", "--data", "data", folder=tmp_path)
    assert (out.returncode, out.stdout) == (0, "run.jsonl written\n")
    (head,) = re.findall(r"^Run 1, head (13:[0-9a-f]{64})$", out.stderr, re.M)
    brought = called("import", "run.jsonl", "--data", "other", folder=tmp_path)
    assert (brought.returncode, brought.stderr) == (0, "")
    assert brought.stdout.startswith(
        "Imported as run 1; where it was made it is run 1. 13 events, chain whole, head 13:"
    )
    assert called("verify", 1, "--head", head, "--data", "other", folder=tmp_path).returncode == 0
    again = called("import", "run.jsonl", "--data", "other", folder=tmp_path)
    assert again.stdout.startswith("It is here already, as run 1; nothing was changed.")
    home = called("import", "run.jsonl", "--data", "data", folder=tmp_path)
    assert home.stdout.startswith("It is here already, as run 1; nothing was changed.")


def test_a_run_is_printed_without_a_file_to_write(tmp_path: Path, run: int) -> None:
    said = called("export", run, "--as", "csv", "--data", "data", folder=tmp_path)
    assert said.returncode == 0
    assert said.stdout.lstrip("\ufeff").startswith("run,kind,procedure,revision,zero_utc,head,step")
    assert said.stderr.startswith("Run 1, head 13:")


@pytest.mark.parametrize(("words", "code", "sentence"), [
    (("export", 1, "--as", "pdf"), 2, "a run is written as csv, xlsx, xes or jsonl"),
    (("export", 1, "--as", "xlsx"), 2, "Name the file to write with --to"),
    (("export", 9, "--as", "csv"), 1, "here is no run 9"),
    (("import", "nowhere.jsonl"), 2, "can't be read"),
    (("import", "mast.yaml"), 1, "mast.yaml: Line 1: it can't be read as JSON"),
])  # fmt: skip
def test_what_can_t_be_done_is_said_in_a_sentence(
    tmp_path: Path, run: int, words: tuple[str | int, ...], code: int, sentence: str
) -> None:
    assert run == 1
    (tmp_path / "mast.yaml").write_bytes(SMALL)
    said = called(*words, "--data", "data", folder=tmp_path)
    assert said.returncode == code
    assert sentence in said.stderr
    assert "Traceback" not in said.stderr


def test_a_changed_file_is_refused_with_its_line_and_stores_nothing(tmp_path: Path, run: int) -> None:
    called("export", run, "--as", "jsonl", "--to", "run.jsonl", "--data", "data", folder=tmp_path)
    file = tmp_path / "run.jsonl"
    file.write_bytes(file.read_bytes().replace(b'"by":"Ana Lead"', b'"by":"Eva Lead"', 1))
    said = called("import", "run.jsonl", "--data", "other", folder=tmp_path)
    assert said.returncode == 1
    assert said.stderr.startswith("run.jsonl: Line 3: it was changed, or what stands before it was")
    assert called("verify", "--data", "other", folder=tmp_path).stdout == "There are no runs.\n"


def test_a_file_that_is_there_is_kept_unless_it_may_be_replaced(tmp_path: Path, run: int) -> None:
    (tmp_path / "run.csv").write_text("mine")
    words = ("export", run, "--as", "csv", "--to", "run.csv", "--data", "data")
    assert called(*words, folder=tmp_path).returncode == 2
    assert (tmp_path / "run.csv").read_text() == "mine"
    assert called(*words, "--replace", folder=tmp_path).returncode == 0


def test_the_exported_lines_are_read_as_they_are_printed(tmp_path: Path, run: int) -> None:
    said = called("export", run, "--as", "jsonl", "--data", "data", folder=tmp_path)
    assert len(read_run_lines(said.stdout.encode()).log) == 13


def test_a_procedure_file_is_made_a_calendar(tmp_path: Path) -> None:
    (tmp_path / "mast.yaml").write_bytes(SMALL)
    said = called("calendar", "mast.yaml", "--zero", "2027-03-01T14:00Z", "--to", "mast.ics", folder=tmp_path)
    assert (said.returncode, said.stdout) == (0, "mast.ics written\n")
    events = icalendar.Calendar.from_ical((tmp_path / "mast.ics").read_bytes()).events
    assert [each.start.isoformat() for each in events][:2] == ["2027-03-01T14:00:00+00:00", "2027-03-01T14:15:00+00:00"]
    bad = called("calendar", "mast.yaml", "--zero", "soon", folder=tmp_path)
    assert bad.returncode == 2
    assert "2031-05-04T07:00:00Z" in bad.stderr
