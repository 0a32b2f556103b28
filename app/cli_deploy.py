"""`leadline --version` and `leadline deploy`: what is installed, and the files that a keeper sets it up with."""

import sysconfig
from enum import StrEnum
from importlib.metadata import version
from pathlib import Path
from typing import Annotated

import typer

FILES = Path(__file__).parent / "deploy"
INSTALLED_AT = "/opt/leadline"
"""Where the shipped files have Leadline; `deploy` writes this installation's own place instead."""


class Kind(StrEnum):
    """What there is a file for."""

    SYSTEMD = "systemd"
    NGINX = "nginx"


NAMES = {Kind.SYSTEMD: "leadline.service", Kind.NGINX: "nginx.conf"}


def deploy(kind: Annotated[Kind, typer.Argument(help="For which of them.")]) -> None:
    """Print the file that systemd or nginx needs to run Leadline. What to change in it is said in it."""
    text = (FILES / NAMES[kind]).read_text(encoding="utf-8")
    place = sysconfig.get_path("scripts")
    if kind is Kind.SYSTEMD:
        place = place.replace("%", "%%")  # A sign of its own there: systemd.unit(5).
    print(text.replace(f"{INSTALLED_AT}/bin", place), end="")


def _said(asked: bool) -> None:
    if asked:
        print(f"leadline {version('leadline')}")
        raise typer.Exit


def common(
    _: Annotated[
        bool, typer.Option("--version", help="Print the version, and nothing else.", callback=_said, is_eager=True)
    ] = False,
) -> None:
    """What may be asked before any command."""
