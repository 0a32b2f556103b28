"""What the commands print on a terminal that has not every sign, and where they stand in no folder: no traceback."""

import json
import os
import shlex
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.cli_files import escape_unknown_signs
from app.store.engine import FILE_NAME
from tests.ports import free_port
from tests.served import LEADLINE, environment
from tests.store.released import populated

ENCODINGS = {
    "a plain locale": {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
    "ASCII": {"PYTHONIOENCODING": "ascii"},
    "Latin-1": {"PYTHONIOENCODING": "latin-1"},
    "UTF-8": {"PYTHONIOENCODING": "utf-8"},
}
PROCEDURE = """\
procedure: pump
title: "„Pümpe“ 🚀"
crew: {EV1: {does: x}}
tasks: [{task: a, title: "Ü„b", who: EV1, steps: [{do: "é", takes: 1 min}]}]
"""


@pytest.fixture
def data() -> Iterator[Path]:
    with populated() as folder:
        yield folder


def ran(folder: Path, how: str, *words: str | bytes | Path) -> subprocess.CompletedProcess[bytes]:
    said = [*LEADLINE, *words]
    known = {**environment(), **ENCODINGS[how]}
    return subprocess.run(said, env=known, cwd=folder, capture_output=True, timeout=60, check=False)


@pytest.mark.parametrize("how", ENCODINGS)
def test_every_sign_is_printed_or_escaped(tmp_path: Path, how: str) -> None:
    file = tmp_path / "pümp.yaml"
    file.write_text(PROCEDURE, encoding="utf-8")
    for words in (("plan",), ("check",)):
        said = ran(tmp_path, how, *words, file)
        assert (said.returncode, said.stderr) == (0, b"")
        assert said.stdout
    title = ran(tmp_path, how, "plan", file).stdout.split(b":")[0]
    told = {
        "a plain locale": b"\\u201eP\\u00fcmpe\\u201c \\ud83d\\ude80",
        "ASCII": b"\\u201eP\\u00fcmpe\\u201c \\ud83d\\ude80",
        "Latin-1": "\\u201eP\xfcmpe\\u201c \\ud83d\\ude80".encode("latin-1"),
        "UTF-8": "„Pümpe“ 🚀".encode(),
    }
    assert title == told[how]


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "utf-8"])
@given(st.text(st.characters(categories=["L", "N", "P", "S", "Z", "Cc", "Cs"])))
@settings(deadline=None)
def test_what_is_escaped_in_json_is_json(encoding: str, text: str) -> None:
    escape_unknown_signs()
    said = json.dumps([text], ensure_ascii=False).encode(encoding, "leadline-escaped")
    joined = text.encode("utf-16", "surrogatepass").decode("utf-16", "surrogatepass")  # Two halves are one sign.
    assert json.loads(said.decode(encoding)) in ([text], [joined])


@pytest.mark.parametrize("name", ["ü.sqlite3", b"zat\xfc.sqlite3"])
def test_a_backup_of_any_name_is_no_failure(tmp_path: Path, data: Path, name: str | bytes) -> None:
    for how in ENCODINGS:
        said = ran(tmp_path, how, "backup", name, "--data", data)
        assert (said.returncode, said.stderr) == (0, b"")
        (made,) = tmp_path.iterdir()
        assert os.fsencode(made.name) == os.fsencode(name)
        made.unlink()


def test_a_current_folder_that_is_gone_is_a_sentence(tmp_path: Path, data: Path) -> None:
    commands: list[tuple[str | Path, ...]] = [
        ("serve", "--port", str(free_port())), ("verify",), ("backup", "to"), ("verify", "--data", "x"),
        ("restore", data / FILE_NAME, "--data", "x"), ("load", "x.yaml"), ("demo", "--data", "x"), ("person", "list"),
    ]  # fmt: skip
    for words in commands:
        line = f"mkdir x && cd x && rmdir ../x && exec {shlex.join([*LEADLINE, *map(str, words)])}"
        said = subprocess.run(
            ["sh", "-c", line], env=environment(), cwd=tmp_path, capture_output=True, text=True, timeout=60, check=False
        )
        assert (said.returncode, said.stdout) == (1, ""), words
        assert "Traceback" not in said.stderr, words
        assert said.stderr.count("\n") == 1, words
