"""Change a database as somebody would with a tool of their own, who takes the guards away first and puts them back."""

import sqlite3
from contextlib import closing
from pathlib import Path


def loosened(file: Path, *statements: str) -> Path:
    """Returns the file. Each statement must change something."""
    with closing(sqlite3.connect(file, isolation_level=None)) as raw:
        guards = raw.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in guards:
            raw.execute(f"DROP TRIGGER {name}")
        for said in statements:
            assert raw.execute(said).rowcount > 0, said
        for _, said in guards:
            raw.execute(said)
    return file
