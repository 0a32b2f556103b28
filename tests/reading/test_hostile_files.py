"""Every hostile file is refused where it is wrong, with a remedy, or does no harm; in time and in little memory."""

from pathlib import Path
from typing import Any

import pytest

from app.reading.files import read_file
from app.reading.opened import MOST_OPENED, beginning
from tests.pace import again_within
from tests.reading import hostile_tables, hostile_workbooks, hostile_yaml
from tests.reading.alone import STATUS, read_alone
from tests.reading.hostile import Case
from tests.served import called

pytestmark = pytest.mark.alone

KINDS: dict[str, tuple[Case, ...]] = {
    "yaml": hostile_yaml.CASES,
    "csv": hostile_tables.CASES,
    "xlsx": hostile_workbooks.CASES,
    "marks": hostile_tables.MARKS,
}
CASES = {f"{kind}: {each.name}": (kind, number, each) for kind in KINDS for number, each in enumerate(KINDS[kind])}
LONGEST_S = 2.0
MOST_MB = 256.0
"""HARM's bounds for any hostile input. The seconds are those of the processor, at the pace of this machine; one that
it shares its caches with others on is still slower, so nothing runs beside it."""


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, Any]]:
    folder = tmp_path_factory.mktemp("hostile")
    for kind, number, each in CASES.values():
        (folder / _file(kind, number)).write_bytes(each.make())
    return read_alone(folder)


def _file(kind: str, number: int) -> str:
    return f"{number:03}.{kind}"


def _seconds(folder: Path, kind: str, case: Case) -> float:
    """What this file alone takes."""
    (folder / f"again.{kind}").write_bytes(case.make())
    return float(read_alone(folder)[f"again.{kind}"]["seconds"])


@pytest.mark.parametrize("name", CASES)
def test_a_hostile_file_is_refused_in_its_place_or_does_no_harm(
    name: str, told: dict[str, dict[str, Any]], tmp_path: Path
) -> None:
    kind, number, each = CASES[name]
    said = told[_file(kind, number)]
    assert all(what and remedy for _, what, remedy in said["faults"])
    found = [what for where, what, _ in said["faults"] if where == each.where]
    assert any(each.what in what for what in found) if each.where else not said["faults"], said["faults"][:3]
    assert said["seconds"] < LONGEST_S or again_within(lambda: _seconds(tmp_path, kind, each), LONGEST_S)


@pytest.mark.skipif(not STATUS.exists(), reason="this system does not say how much memory a process had")
def test_all_of_them_one_after_another_take_little_memory(told: dict[str, dict[str, Any]]) -> None:
    assert len(told) == len(CASES)
    assert max(said["most_mb"] for said in told.values()) < MOST_MB


@pytest.mark.skipif(not STATUS.exists(), reason="this system does not say how much memory a process had")
def test_the_measure_tells_much_memory_from_little(tmp_path: Path) -> None:
    """A file that is read before the largest has the lower figure; both are figures of a living process."""
    (tmp_path / "1.csv").write_bytes(b"row,name\n")
    (tmp_path / "2.xlsx").write_bytes(hostile_workbooks.styles(b"0.0", 140_000))
    small, large = (read_alone(tmp_path)[name]["most_mb"] for name in ("1.csv", "2.xlsx"))
    assert 5 < small < large


def test_a_file_of_ten_gigabytes_is_refused_without_being_read_whole(tmp_path: Path) -> None:
    """In the folder of procedures, at every start. (It takes no room on the disk: there is nothing in it.)"""
    for name in ("large.yaml", "large.csv", "large.xlsx"):
        with (tmp_path / name).open("wb") as file:
            file.truncate(10**10)
        assert len(beginning(tmp_path / name)) == MOST_OPENED
        (fault,) = read_file(beginning(tmp_path / name), name).faults
        assert "at most 512 KB are read" in fault.what
        checked = called("check", tmp_path / name, folder=tmp_path)
        assert checked.returncode == 1
        assert "at most 512 KB are read" in checked.stdout + checked.stderr
