"""Where things are: read once at start, from options and the environment, and passed in from there."""

import ipaddress
import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent
_SHIPPED = _PACKAGE / "_data"
HOME = _SHIPPED if _SHIPPED.is_dir() else _PACKAGE.parent
"""The folder of templates, static files, migrations and samples: inside a wheel, or the repository."""


@dataclass(frozen=True, slots=True)
class Settings:
    """Attributes are folders, and the address to serve at.

    `tls_cert`, `tls_key`: PEM files, both or neither. `known_as`: further names by which browsers may ask for it.
    `behind`: addresses of proxies that are believed on who asks, and by which scheme.
    `also_at`: where else the same database is served, such as ``http://board-2:8765``.
    `database`: None for SQLite in the folder `data`, else the URL of a PostgreSQL database, with its password perhaps.
    """

    data: Path
    procedures: Path
    host: str = "127.0.0.1"
    port: int = 8765
    tls_cert: Path | None = None
    tls_key: Path | None = None
    known_as: tuple[str, ...] = ()
    behind: tuple[str, ...] = ()
    also_at: tuple[str, ...] = ()
    database: str | None = field(default=None, repr=False)
    templates: Path = HOME / "templates"
    static: Path = HOME / "static"
    migrations: Path = HOME / "migrations"

    @property
    def alone(self) -> bool:
        """Whether whoever asks is at this machine: nobody is, who comes by way of a proxy."""
        return self.on_loopback and not self.behind

    @property
    def on_loopback(self) -> bool:
        """Whether only this machine can reach the address."""
        try:
            return self.host == "localhost" or ipaddress.ip_address(self.host).is_loopback
        except ValueError:
            return False


def default_data(environ: Mapping[str, str] = os.environ) -> Path:
    """``LEADLINE_DATA``, or ``leadline-data`` in the current folder."""
    return Path(environ.get("LEADLINE_DATA") or "leadline-data")


def default_database(environ: Mapping[str, str] = os.environ) -> str | None:
    """``LEADLINE_DATABASE``; None where it says nothing: SQLite in the data folder."""
    return environ.get("LEADLINE_DATABASE") or None


def default_also_at(environ: Mapping[str, str] = os.environ) -> tuple[str, ...]:
    """The addresses of ``LEADLINE_ALSO_AT``, with spaces between them."""
    return tuple(environ.get("LEADLINE_ALSO_AT", "").split())


def default_procedures(folder: Path | None = None) -> Path:
    """``procedures`` in the current folder if there is one, else the samples that come with Leadline."""
    here = (folder or Path.cwd()) / "procedures"
    try:
        return here if here.is_dir() else HOME / "procedures"
    except PermissionError:  # As where root starts it in its own home as somebody else.
        return HOME / "procedures"
