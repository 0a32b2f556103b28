"""Where things are: read once at start, from options and the environment, and passed in from there."""

import ipaddress
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent
_SHIPPED = _PACKAGE / "_data"
HOME = _SHIPPED if _SHIPPED.is_dir() else _PACKAGE.parent
"""The folder of templates, static files, migrations and samples: inside a wheel, or the repository."""


@dataclass(frozen=True, slots=True)
class Settings:
    """Attributes are folders, and the address to serve at.

    `tls_cert`, `tls_key`: PEM files, both or neither. `known_as`: further names by which browsers may ask for it.
    """

    data: Path
    procedures: Path
    host: str = "127.0.0.1"
    port: int = 8765
    tls_cert: Path | None = None
    tls_key: Path | None = None
    known_as: tuple[str, ...] = ()
    templates: Path = HOME / "templates"
    static: Path = HOME / "static"
    migrations: Path = HOME / "migrations"

    @property
    def alone(self) -> bool:
        """Whether only this machine can reach the address."""
        try:
            return self.host == "localhost" or ipaddress.ip_address(self.host).is_loopback
        except ValueError:
            return False


def default_data(environ: Mapping[str, str] = os.environ) -> Path:
    """``LEADLINE_DATA``, or ``leadline-data`` in the current folder."""
    return Path(environ.get("LEADLINE_DATA") or "leadline-data")


def default_procedures(folder: Path | None = None) -> Path:
    """``procedures`` in the current folder if there is one, else the samples that come with Leadline."""
    here = (folder or Path.cwd()) / "procedures"
    return here if here.is_dir() else HOME / "procedures"
