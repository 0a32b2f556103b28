"""What holds over all files: the direction of imports, the vendored script, and pages that need nobody else."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from app.settings import HOME

ROOT = Path(__file__).parents[1]
TEMPLATES = sorted((HOME / "templates").glob("*.html"))
HELP = sorted((HOME / "templates" / "help").glob("*.html"))
"""They show addresses and commands as text, so what refers to another host is looked for in the others alone."""
HTMX = HOME / "static" / "vendor" / "htmx-4.0.1.min.js"
OWN = sorted(path for path in (HOME / "static").glob("*") if path.is_file())
VENDORED = sorted(path for path in (HOME / "static" / "vendor").iterdir() if path.suffix in {".css", ".js"})
NAMESPACE = ("http://www.w3.org/",)
"""An XML namespace is a name, not an address that is fetched."""


def test_imports_run_one_way() -> None:
    tool = Path(sys.executable).with_name("lint-imports")
    said = subprocess.run([tool, "--no-cache"], cwd=ROOT, capture_output=True, text=True, timeout=60, check=False)
    assert said.returncode == 0, said.stdout + said.stderr
    assert "0 broken" in said.stdout


def test_the_vendored_htmx_is_the_version_that_its_name_says() -> None:
    assert re.search(r'version\s*[:=]\s*"4\.0\.1"', HTMX.read_text())
    assert f"vendor/{HTMX.name}" in (HOME / "templates" / "board.html").read_text()
    assert [path.name for path in HTMX.parent.glob("htmx*.js")] == [HTMX.name]


@pytest.mark.parametrize("template", [*TEMPLATES, *HELP], ids=lambda path: path.name)
def test_a_template_has_no_inline_script_or_style(template: Path) -> None:
    """The content security policy would refuse them, and with them the page would stop in silence."""
    text = template.read_text()
    for tag in re.findall(r"<[a-zA-Z][^>]*>", text):
        assert not re.search(r"\son[a-z]+\s*=", tag), tag
        assert not re.search(r"\sstyle\s*=", tag), tag
        assert "hx-on" not in tag
        assert "javascript:" not in tag.lower()
        assert not re.search(r'hx-[a-z:-]+="js:', tag), tag
    assert "<style" not in text
    assert all("src=" in script for script in re.findall(r"<script\b[^>]*>", text))
    assert "|safe" not in text.replace(" ", "")


@pytest.mark.parametrize("path", [*TEMPLATES, *OWN], ids=lambda path: path.name)
def test_nothing_of_ours_refers_to_another_host(path: Path) -> None:
    addresses = re.findall(r"(?:https?:)?//[a-z0-9][^\s\"'<>)]*", path.read_text())
    found = [each for each in addresses if ":" in each.split("//")[0] and not each.startswith(NAMESPACE)]
    assert found == []
    assert not re.search(r"""(?:src|href|action)\s*=\s*["']//""", path.read_text())


@pytest.mark.parametrize("path", VENDORED, ids=lambda path: path.name)
def test_no_vendored_style_or_script_loads_from_another_host(path: Path) -> None:
    """Addresses in messages and licences are text; these are the forms that a browser would fetch."""
    text = path.read_text()
    fetched = re.findall(
        r"""(?:@import\s+["']|url\(["']?|importScripts\(["']|import\(["'])(?:https?:)?//[^"')]+""", text
    )
    assert fetched == []


def test_every_static_file_that_a_template_names_is_there() -> None:
    for template in TEMPLATES:
        for name in re.findall(r"/static/([^\"'?]+)", template.read_text()):
            assert (HOME / "static" / name).is_file(), (template.name, name)


def test_the_font_is_ours_to_give_and_is_loaded_from_here() -> None:
    style = (HOME / "static" / "leadline.css").read_text()
    for name in re.findall(r"url\(\"?([^\")]+)", style):
        assert not name.startswith(("http:", "https:", "//"))
    assert (HOME / "static" / "vendor" / "inter.LICENSE").stat().st_size > 1_000
