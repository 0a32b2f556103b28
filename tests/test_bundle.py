"""The archive that installs Leadline without a network: made, made again, installed where there is none, and damaged.

It is made from wheels that pip downloads, so all of this is skipped where none can be had.
"""

import hashlib
import json
import os
import shutil
import subprocess
import sys
import tarfile
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from pathlib import Path

import pytest

from app.settings import HOME
from tests.ports import free_port

ROOT = Path(__file__).parents[1]
TREE = ("app", "templates", "static", "migrations", "procedures", ".ci")
FILES = ("pyproject.toml", ".gitignore", "README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE")
MINOR = f"{sys.version_info.major}.{sys.version_info.minor}"
NO_INDEX = 75
"""The code with which it ends where no wheel can be had."""

pytestmark = pytest.mark.alone


@dataclass(frozen=True, slots=True)
class Made:
    """The archive, the tree that it was made from, and the wheels that were downloaded for it."""

    archive: Path
    tree: Path
    wheels: Path

    def unpacked(self, folder: Path) -> Path:
        with tarfile.open(self.archive) as packed:
            packed.extractall(folder, filter="data")
        (found,) = folder.iterdir()
        return found


def copied(source: Path, tree: Path) -> Path:
    """What the archive is made from: nobody changes it meanwhile."""
    tree.mkdir()
    for name in TREE:
        shutil.copytree(source / name, tree / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in FILES:
        shutil.copy2(source / name, tree / name)
    return tree


def bundled(tree: Path, out: Path, wheels: Path) -> subprocess.CompletedProcess[str]:
    words = [
        sys.executable,
        str(tree / ".ci" / "bundle" / "make.py"),
        "--minor",
        str(sys.version_info.minor),
        "--out",
        str(out),
    ]
    return subprocess.run([*words, "--wheels", str(wheels)], capture_output=True, text=True, check=False)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    folder = tmp_path_factory.mktemp("bundle")
    tree = copied(ROOT, folder / "tree")
    done = bundled(tree, folder / "out", folder / "wheels")
    if done.returncode == NO_INDEX:
        pytest.skip(done.stderr)
    assert done.returncode == 0, done.stderr
    (archive,) = (folder / "out").glob("*.tar.gz")
    return Made(archive, tree, folder / "wheels")


@pytest.fixture
def unpacked(made: Made, tmp_path: Path) -> Path:
    return made.unpacked(tmp_path / "unpacked")


@cache
def python() -> str:
    """The Python that this environment was made from, which has nothing of Leadline's."""
    return str(getattr(sys, "_base_executable", sys.executable))


@cache
def apart() -> tuple[str, ...]:
    """The words before a command that is to have a network of its own; none where that is not allowed."""
    for words in (("unshare", "--net"), ("unshare", "--map-root-user", "--net")):
        if (
            shutil.which("unshare")
            and subprocess.run([*words, "true"], capture_output=True, check=False).returncode == 0
        ):
            return words
    return ()


def bare() -> dict[str, str]:
    """An environment as a new machine has it: no setting of Python's, of pip's or of ours."""
    return {"PATH": "/usr/bin:/bin", "HOME": "/nonexistent", "LANG": "C.UTF-8", "PYTHON": python()}


def install(unpacked: Path, folder: Path | str, **more: str) -> subprocess.CompletedProcess[str]:
    words = ["sh", str(unpacked / "install.sh"), str(folder)]
    return subprocess.run(
        words, cwd=unpacked.parent, env=bare() | more, capture_output=True, text=True, check=False, timeout=120
    )


def refused(unpacked: Path, folder: Path | str, **more: str) -> str:
    """Why; nothing was made."""
    before = sorted(unpacked.parent.iterdir())
    said = install(unpacked, folder, **more)
    assert said.returncode == 1, said.stdout
    assert sorted(unpacked.parent.iterdir()) == before
    return said.stderr


def test_it_installs_and_serves_in_a_network_of_its_own_where_nobody_else_is(unpacked: Path, tmp_path: Path) -> None:
    """Where no such network may be made, beside an index that is not there."""
    words = [*apart(), python(), "-I", str(ROOT / "tests" / "cut_off.py"), str(unpacked / "install.sh")]
    words += [str(tmp_path / "leadline"), str(free_port())]
    wrong = {"PIP_INDEX_URL": "http://127.0.0.1:9/simple", "PIP_NO_INDEX": "0"}
    done = subprocess.run(
        words, env=bare() | wrong, cwd=tmp_path, capture_output=True, text=True, check=False, umask=0o077
    )
    assert done.returncode == 0, done.stderr
    command = tmp_path / "leadline" / "bin" / "leadline"
    assert command.stat().st_mode & command.parent.stat().st_mode & 0o055 == 0o055, "the service's account runs it"
    found = json.loads(done.stdout)
    assert found["cut_off"] or not apart(), "another machine could be reached"
    assert f"Leadline {version('leadline')} is installed" in found["installed"]
    assert found["version"] == f"leadline {version('leadline')}\n"
    assert found["compiled"] > 1_000
    assert "Coolant pump changeout" in found["home"]
    assert found["seq"] == 2
    assert found["verify"].startswith("Run 1: 2 events, chain whole")
    assert f'ExecStart="{tmp_path / "leadline"}/bin/leadline"' in found["deploy"]
    assert found["psycopg"] == "binary\n"


def test_the_same_tree_gives_the_same_archive_wherever_and_whenever_it_stands(made: Made, tmp_path: Path) -> None:
    tree = copied(made.tree, tmp_path / "another place")
    for path in tree.rglob("*"):
        os.utime(path, (1_000_000_000, 1_000_000_000))
    again = bundled(tree, tmp_path, made.wheels)
    assert again.returncode == 0, again.stderr
    assert (tmp_path / made.archive.name).read_bytes() == made.archive.read_bytes()
    said = (tmp_path / f"{made.archive.name}.sha256").read_text()
    assert said == f"{hashlib.sha256(made.archive.read_bytes()).hexdigest()}  {made.archive.name}\n"
    assert said.split()[0] in again.stdout


def test_every_file_has_its_sum_and_every_package_its_hash(unpacked: Path) -> None:
    files = {path.relative_to(unpacked).as_posix() for path in unpacked.rglob("*") if path.is_file()}
    sums = dict(line.split("  ")[::-1] for line in (unpacked / "SHA256SUMS").read_text().splitlines())
    assert set(sums) == files - {"SHA256SUMS"}
    for name, wanted in sums.items():
        assert hashlib.sha256((unpacked / name).read_bytes()).hexdigest() == wanted
    rows = (unpacked / f"requirements-{MINOR}.txt").read_text().splitlines()
    hashes = {row.partition("sha256:")[2] for row in rows}
    wheels = {sums[name] for name in files if name.startswith("wheels/") and "/pip-" not in name}
    assert hashes == wheels
    assert {"leadline", "numpy", "psycopg-binary", "uvloop"} <= {row.partition("==")[0] for row in rows}
    samples = {path.name for path in (HOME / "procedures").iterdir() if path.is_file()}
    assert samples == {name.removeprefix("samples/") for name in files if name.startswith("samples/")}
    assert {"deploy/leadline.service", "deploy/nginx.conf", "INSTALL.md", "README.md", "LICENSE"} <= files


@pytest.mark.parametrize("which", ["wheels/leadline-*.whl", "requirements-*.txt", "samples/*.yaml"])
def test_one_flipped_bit_is_found_before_anything_is_installed(unpacked: Path, which: str) -> None:
    damaged = sorted(unpacked.glob(which))[0]
    data = bytearray(damaged.read_bytes())
    data[len(data) // 2] ^= 1
    damaged.write_bytes(data)
    assert f"Damaged, or not there: {damaged.relative_to(unpacked)}" in refused(unpacked, "leadline")


def test_a_file_that_is_missing_is_named(unpacked: Path) -> None:
    (unpacked / "LICENSE").unlink()
    assert "Damaged, or not there: LICENSE" in refused(unpacked, "leadline")


def test_a_wheel_that_was_exchanged_together_with_its_sum_is_refused_by_its_hash(unpacked: Path) -> None:
    """What made the sums anew did not make the hashes that pip is given anew."""
    wheel = next((unpacked / "wheels").glob("leadline-*.whl"))
    before = hashlib.sha256(wheel.read_bytes()).hexdigest()
    wheel.write_bytes(wheel.read_bytes() + b"\0")
    sums = unpacked / "SHA256SUMS"
    sums.write_text(sums.read_text().replace(before, hashlib.sha256(wheel.read_bytes()).hexdigest()))
    said = refused(unpacked, "leadline")
    assert "Nothing was left behind" in said
    assert "DO NOT MATCH THE HASHES" in said


def fake_python(folder: Path, says: str, new_enough: bool) -> str:
    made = folder / "python"
    made.write_text(f'#!/bin/sh\ncase "$3" in *%d.%d*) echo {says};; *) exit {0 if new_enough else 1};; esac\n')
    made.chmod(0o755)
    return str(made)


def test_a_python_that_does_not_fit_is_a_sentence(unpacked: Path, tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()
    too_old = refused(unpacked, "leadline", PYTHON=fake_python(other, "3.9", new_enough=False))
    assert too_old.startswith("Python 3.9 is too old: Leadline needs 3.11 or newer.")
    too_new = refused(unpacked, "leadline", PYTHON=fake_python(other, "3.99", new_enough=True))
    assert too_new.startswith(f"This archive has wheels for Python {MINOR}, and this machine has Python 3.99.")
    assert refused(unpacked, "leadline", PYTHON="/nonexistent").startswith("No Python was found.")


def test_another_platform_is_a_sentence(unpacked: Path) -> None:
    (unpacked / "PLATFORM").write_text("linux-abacus\n")
    assert refused(unpacked, "leadline").startswith(
        "This archive is for linux-abacus, and this machine's Python is of "
    )


def test_a_folder_that_cannot_be_used_is_a_sentence_and_keeps_what_it_has(unpacked: Path) -> None:
    full = unpacked.parent / "full"
    full.mkdir()
    (full / "notes").write_text("mine")
    assert "is not empty" in refused(unpacked, full)
    assert (full / "notes").read_text() == "mine"
    assert "is not a folder" in refused(unpacked, full / "notes")
    assert "you may not write there" in refused(unpacked, "/proc/leadline")
