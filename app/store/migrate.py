"""Bring a database to the tables of this Leadline, at start and before any other use. It reads no event.

`python -m app.store.migrate check` says whether tables.py and the migrations agree; `... new "what it does"` writes
the next migration.
"""

import re
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from alembic.util import CommandError
from sqlalchemy import Connection, Engine, inspect
from sqlalchemy.exc import DBAPIError

from app.store.backup import copy
from app.store.engine import driver, failure_of, writer_engine
from app.store.faults import ForeignDatabase, printable
from app.store.place import prepare

_VERSIONS = "alembic_version"
_RECORD = {"revision", "run", "receipt", "event"}
"""The tables that each Leadline has had, from the first."""

_ASIDE = re.compile(r"person_[0-9]{4}")
"""Where a downgrade keeps what the older tables have no place for."""

_AT_ROOT = Path(__file__).parents[2] / "migrations"


def config_of(migrations_dir: Path, connection: Connection | None = None) -> Config:
    """Alembic's settings without a file: the scripts' place, and the connection to use."""
    config = Config(stdout=sys.stdout)
    # A per cent sign would be taken for an interpolation.
    config.set_main_option("script_location", str(migrations_dir).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    config.set_main_option("file_template", "v%%(rev)s_%%(slug)s")
    config.attributes["connection"] = connection
    return config


def upgrade(engine: Engine, migrations_dir: Path, to: str | None = None) -> Path | None:
    """Bring the database to the newest tables in one transaction, after a backup if it was in use before.

    Args:
        to: the revision of the migrations to stop at, for an empty file; the newest if not given.

    Returns:
        The backup beside the database, or None where none was needed.

    Raises:
        ForeignDatabase: it is from a newer Leadline, or not of Leadline.
        NotSafe: no sound backup could be made; nothing was changed.
    """
    wanted = to or ScriptDirectory.from_config(config_of(migrations_dir)).get_current_head()
    with engine.connect() as connection:
        stands = stands_at(connection, migrations_dir)
        connection.rollback()
        if stands == wanted:
            return None
        kept = _keep(connection, f"before-{wanted}") if stands else None
        try:
            with connection.begin():
                command.upgrade(config_of(migrations_dir, connection), wanted or "head")
        except BaseException:
            if kept:
                kept.unlink()  # Nothing was changed. Each try to start would leave another.
            raise
        return kept


def downgrade(engine: Engine, migrations_dir: Path, to: str) -> None:
    """Go back to older tables, in one transaction. `to` is a revision of the migrations, or ``base``.

    Raises:
        NotSafe: the record would be lost.
    """
    with engine.begin() as connection:
        command.downgrade(config_of(migrations_dir, connection), to)


def stands_at(connection: Connection, migrations_dir: Path) -> str | None:
    """The revision of the migrations at which the tables of a database stand; None for one without tables.

    Raises:
        ForeignDatabase: it is from a newer Leadline, or not of Leadline.
        sqlalchemy.exc.DBAPIError: it can't be read.
    """
    scripts = ScriptDirectory.from_config(config_of(migrations_dir))
    tables = set(inspect(connection).get_table_names())
    if all(name == _VERSIONS or _ASIDE.fullmatch(name) for name in tables):
        return None
    stands = _said(connection) if _VERSIONS in tables else None
    # Others use the same tool, and a table of the same name.
    if stands is None or not tables >= _RECORD:
        raise ForeignDatabase("This file is a database, but not one of Leadline. Choose another data directory.")
    if stands not in {script.revision for script in scripts.walk_revisions()}:
        raise ForeignDatabase(
            f"This database was written by a newer Leadline (its tables are at {printable(stands, 20)}, this one knows "
            f"them up to {scripts.get_current_head()}). Start the newer Leadline, or restore the backup made before "
            "the upgrade."
        )
    return stands


def _said(connection: Connection) -> str | None:
    """The revision that the database itself names; None where it names none, or several."""
    try:
        return MigrationContext.configure(connection).get_current_revision()
    except CommandError:
        return None
    except DBAPIError as error:
        if failure_of(error):
            raise
        return None


def _keep(connection: Connection, why: str) -> Path:
    """Back the database up beside itself, under a name that is free."""
    file = Path(str(connection.engine.url.database))
    for left in file.parent.glob(f"{file.stem}-before-*.partial*"):
        left.unlink()  # Of an upgrade that was killed; nobody else makes such copies in a folder that we own.
    names = [f"{file.stem}-{why}{file.suffix}"] + [f"{file.stem}-{why}-{n}{file.suffix}" for n in range(2, 1000)]
    free = next(file.with_name(name) for name in names if not file.with_name(name).exists())
    return copy(driver(connection), free)


def check(migrations_dir: Path = _AT_ROOT) -> None:
    """Migrate an empty database and compare it with tables.py.

    Raises:
        alembic.util.AutogenerateDiffsDetected: they differ; it says in what.
    """
    _on_a_new_file(migrations_dir, command.check)


def new(message: str, migrations_dir: Path = _AT_ROOT) -> None:
    """Write the next migration from the difference between tables.py and the migrations so far."""
    number = len(list((migrations_dir / "versions").glob("v*.py"))) + 1
    _on_a_new_file(
        migrations_dir, lambda config: command.revision(config, message, autogenerate=True, rev_id=f"{number:04d}")
    )


def _on_a_new_file(migrations_dir: Path, do: Callable[[Config], object]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        engine = writer_engine(prepare(Path(folder)))
        try:
            upgrade(engine, migrations_dir)
            with engine.connect() as connection:
                do(config_of(migrations_dir, connection))
        finally:
            engine.dispose()


def main(words: list[str]) -> int:
    """``check``, or ``new "what it does"``. Returns the exit status."""
    match words:
        case ["check"]:
            try:
                check()
            except CommandError as error:
                print(error, file=sys.stderr)
                return 1
        case ["new", message]:
            new(message)
        case _:
            print('usage: python -m app.store.migrate check | new "what it does"', file=sys.stderr)
            return 2
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
