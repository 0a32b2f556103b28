"""`leadline load`: the library, from the command line."""

import sqlite3
from contextlib import closing
from pathlib import Path

from app.store.engine import FILE_NAME
from tests.ports import free_port
from tests.served import called
from tests.service.making import SAMPLES, SMALL


def revisions(data: Path) -> int:
    with closing(sqlite3.connect(data / FILE_NAME)) as other:
        return int(other.execute("SELECT count(*) FROM revision").fetchone()[0])


def test_load_twice_changes_nothing(tmp_path: Path) -> None:
    files = sorted(SAMPLES.glob("*.yaml"))
    first = called("load", *files, "--data", "data", folder=tmp_path)
    again = called("load", *files, "--data", "data", folder=tmp_path)
    assert (first.returncode, again.returncode) == (0, 0)
    assert first.stdout.count("loaded as revision") == len(files)
    assert again.stdout.count("already there as revision") == len(files)
    assert revisions(tmp_path / "data") == len(files)


def test_load_refuses_a_faulty_file_whole_and_loads_the_others(tmp_path: Path) -> None:
    good, bad = tmp_path / "good.yaml", tmp_path / "bad.yaml"
    good.write_bytes(SMALL)
    bad.write_bytes(SMALL.replace(b"5 min", b"5"))
    said = called("load", bad, good, "--data", "data", folder=tmp_path)
    assert said.returncode == 1
    assert f"{bad}:10:" in said.stderr
    assert "1 of 2 files refused." in said.stderr
    assert revisions(tmp_path / "data") == 1


def test_a_data_folder_that_cannot_be_one_is_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    for words in (["load", str(SAMPLES / "pump-changeout.yaml")], ["verify", "1"], ["serve"], ["demo"]):
        words += ["--port", str(free_port())] if len(words) == 1 else []
        said = called(*words, "--data", tmp_path / "file", folder=tmp_path)
        assert said.returncode == 1, said
        assert "Traceback" not in said.stderr
        assert str(tmp_path / "file") in said.stderr
