"""The built wheel alone, in an empty folder: everything that Leadline needs to run is inside it.

The wheel is unpacked by pip into a folder of its own. The child processes see that folder and this environment's
packages, but not the repository: they run with `-S`, so the `.pth` file of the editable installation is not read.
"""

import os
import signal
import subprocess
import sys
import sysconfig
import urllib.request
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
COMMAND = "import sys; from app.cli import main; sys.argv[0] = 'leadline'; main()"

pytestmark = pytest.mark.skipif(
    find_spec("build") is None or find_spec("hatchling") is None,
    reason="the packages build and hatchling, which make the wheel, are not installed",
)


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(made), str(ROOT)]
    built = subprocess.run(command, capture_output=True, text=True, check=False)
    assert built.returncode == 0, built.stdout + built.stderr
    (found,) = made.glob("leadline-*.whl")
    return found


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder in which only Leadline is."""
    folder = tmp_path_factory.mktemp("installed")
    options = ["--quiet", "--no-deps", "--no-index", "--disable-pip-version-check", "--no-compile"]
    command = [sys.executable, "-m", "pip", "install", *options, "--target", str(folder), str(wheel)]
    subprocess.run(command, check=True, capture_output=True)
    return folder


def _environment(installed: Path) -> dict[str, str]:
    packages = dict.fromkeys((sysconfig.get_path("purelib"), sysconfig.get_path("platlib")))
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "LEADLINE"))}
    return kept | {"PYTHONPATH": os.pathsep.join([str(installed), *packages]), "PYTHONUNBUFFERED": "1"}


def _leadline(*words: str) -> list[str]:
    return [sys.executable, "-S", "-c", COMMAND, *words]


def _run(installed: Path, folder: Path, *words: str) -> str:
    done = subprocess.run(
        _leadline(*words), cwd=folder, env=_environment(installed), capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@contextmanager
def _demo(installed: Path, folder: Path) -> Iterator[str]:
    """The address that `leadline demo` prints."""
    with subprocess.Popen(
        _leadline("demo"), cwd=folder, env=_environment(installed), stdout=subprocess.PIPE, text=True
    ) as process:
        try:
            assert process.stdout is not None
            said = next((line for line in process.stdout if "http://" in line), "")
            assert said, "the demo ended without saying where it is"
            yield said.split()[-1]
        finally:
            process.send_signal(signal.SIGINT)
            try:
                process.wait(10)
            except subprocess.TimeoutExpired:
                process.kill()


def _get(address: str) -> str:
    with urllib.request.urlopen(address, timeout=10) as answer:
        return str(answer.read().decode())


def test_the_wheel_holds_templates_static_files_migrations_and_samples_and_no_tests(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    for folder in ("templates", "static", "migrations", "procedures"):
        sources = {path.relative_to(ROOT).as_posix() for path in (ROOT / folder).rglob("*") if _shipped(path)}
        assert sources
        assert sources <= {name.removeprefix("app/_data/") for name in names}
    assert {name.split("/")[0] for name in names} == {"app", names[-1].split("/")[0]}
    assert not [name for name in names if "test" in name.lower() or name.endswith((".pyc", ".sqlite3"))]


def _shipped(path: Path) -> bool:
    return path.is_file() and "__pycache__" not in path.parts


def test_the_installed_command_checks_a_shipped_sample_from_an_empty_folder(installed: Path, tmp_path: Path) -> None:
    sample = installed / "app" / "_data" / "procedures" / "pump-changeout.yaml"
    assert ": sound, " in _run(installed, tmp_path, "check", str(sample))
    where = subprocess.run(
        [sys.executable, "-S", "-c", "import app; print(app.__file__)"],
        cwd=tmp_path,
        env=_environment(installed),
        capture_output=True,
        text=True,
        check=True,
    )
    assert Path(where.stdout.strip()).is_relative_to(installed)


def test_the_installed_demo_serves_desk_style_and_api_from_an_empty_folder(installed: Path, tmp_path: Path) -> None:
    with _demo(installed, tmp_path) as address:
        base = address.partition("/runs/")[0]
        assert 'data-page="desk"' in _get(address)
        assert _get(f"{base}/static/leadline.css") == (ROOT / "static" / "leadline.css").read_text()
        assert '"/api/runs/{run}/marks"' in _get(f"{base}/api/openapi.json")
    assert not list(tmp_path.iterdir())


def test_the_entry_point_of_the_wheel_is_the_command_leadline(installed: Path) -> None:
    (points,) = installed.glob("leadline-*.dist-info/entry_points.txt")
    assert "leadline = app.cli:main" in points.read_text()
