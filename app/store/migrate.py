"""Bring a database to the tables of this Leadline, at start and before any other use. It reads no event.

`python -m app.store.migrate check` says whether tables.py and the migrations agree: with SQLite, and with PostgreSQL
too where the URL of a database is given, or LEADLINE_TEST_DATABASE has one. `... new "what it does"` writes the next
migration.
"""

import os
import re
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection, Engine, inspect, text
from sqlalchemy.exc import DBAPIError

from app.store.backup import copy
from app.store.engine import driver, failure_of, writer_engine
from app.store.faults import ForeignDatabase, printable
from app.store.place import prepare
from app.store.postgres_failures import postgres_failure_of

if TYPE_CHECKING:
    from alembic.config import Config

_VERSIONS = "alembic_version"
_STANDS = text("SELECT version_num FROM alembic_version")
_RECORD = {"revision", "run", "receipt", "event"}
"""The tables that each Leadline has had, from the first."""

_ASIDE = re.compile(r"person_[0-9]{4}")
"""Where a downgrade keeps what the older tables have no place for."""

_AT_ROOT = Path(__file__).parents[2] / "migrations"


def config_of(migrations_dir: Path, connection: Connection | None = None) -> "Config":
    """Alembic's settings without a file: the scripts' place, and the connection to use."""
    from alembic.config import Config

    config = Config(stdout=sys.stdout)
    # A per cent sign would be taken for an interpolation.
    config.set_main_option("script_location", str(migrations_dir).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    config.set_main_option("file_template", "v%%(rev)s_%%(slug)s")
    config.attributes["connection"] = connection
    return config


def revisions(migrations_dir: Path) -> list[str]:
    """Those of the migrations, the oldest first, as `config_of` has their files named.

    Alembic is not asked: it takes long to load, and a server whose tables are the newest starts without it.
    """
    return sorted(path.name[1:5] for path in (migrations_dir / "versions").glob("v[0-9][0-9][0-9][0-9]_*.py"))


def newest(migrations_dir: Path) -> str:
    """The revision at which the tables of this Leadline stand."""
    return revisions(migrations_dir)[-1]


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
    wanted = to or newest(migrations_dir)
    with engine.connect() as connection:
        stands = stands_at(connection, migrations_dir)
        connection.rollback()
        if stands == wanted:
            return None
        from alembic import command

        kept = _keep(connection, f"before-{wanted}") if stands else None
        try:
            with connection.begin():
                command.upgrade(config_of(migrations_dir, connection), wanted)
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
    from alembic import command

    with engine.begin() as connection:
        command.downgrade(config_of(migrations_dir, connection), to)


def stands_at(connection: Connection, migrations_dir: Path) -> str | None:
    """The revision of the migrations at which the tables of a database stand; None for one without tables.

    Raises:
        ForeignDatabase: it is from a newer Leadline, or not of Leadline.
        sqlalchemy.exc.DBAPIError: it can't be read.
    """
    known = revisions(migrations_dir)
    tables = set(inspect(connection).get_table_names())
    if all(name == _VERSIONS or _ASIDE.fullmatch(name) for name in tables):
        return None
    stands = _said(connection) if _VERSIONS in tables else None
    # Others use the same tool, and a table of the same name.
    if stands is None or not tables >= _RECORD:
        raise ForeignDatabase(_FOREIGN[connection.dialect.name])
    if stands not in known:
        raise ForeignDatabase(
            f"This database was written by a newer Leadline (its tables are at {printable(stands, 20)}, this one knows "
            f"them up to {known[-1]}). Start the newer Leadline, or restore the backup made before "
            "the upgrade."
        )
    return stands


_FOREIGN = {
    "sqlite": "This file is a database, but not one of Leadline. Choose another data directory.",
    "postgresql": "This database holds tables of something else than Leadline. Make one for Leadline alone.",
}


def _said(connection: Connection) -> str | None:
    """The revision that the database itself names; None where it names none, or several."""
    try:
        found = connection.execute(_STANDS).scalars().all()
    except DBAPIError as error:
        if failure_of(error) or postgres_failure_of(error):
            raise
        return None
    return found[0] if len(found) == 1 else None


def _keep(connection: Connection, why: str) -> Path:
    """Back the database up beside itself, under a name that is free."""
    file = Path(str(connection.engine.url.database))
    for left in file.parent.glob(f"{file.stem}-before-*.partial*"):
        left.unlink()  # Of an upgrade that was killed; nobody else makes such copies in a folder that we own.
    names = [f"{file.stem}-{why}{file.suffix}"] + [f"{file.stem}-{why}-{n}{file.suffix}" for n in range(2, 1000)]
    free = next(file.with_name(name) for name in names if not file.with_name(name).exists())
    return copy(driver(connection), free)


def check(migrations_dir: Path = _AT_ROOT, database: str | None = None) -> None:
    """Migrate an empty database and compare it with tables.py.

    Args:
        database: the URL of a PostgreSQL database; all is done in a schema of its own, which is gone afterwards.
            A new SQLite file if it is not given.

    Raises:
        alembic.util.AutogenerateDiffsDetected: they differ; it says in what.
    """
    from alembic import command

    if database is None:
        _on_a_new_file(migrations_dir, command.check)
        return
    from app.store.postgres_upgrade import in_new_schema

    with in_new_schema(database, migrations_dir) as connection:
        command.check(config_of(migrations_dir, connection))


def new(message: str, migrations_dir: Path = _AT_ROOT) -> None:
    """Write the next migration from the difference between tables.py and the migrations so far."""
    from alembic import command

    number = len(revisions(migrations_dir)) + 1
    _on_a_new_file(
        migrations_dir, lambda config: command.revision(config, message, autogenerate=True, rev_id=f"{number:04d}")
    )


def _on_a_new_file(migrations_dir: Path, do: "Callable[[Config], object]") -> None:
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
    from alembic.util import CommandError

    match words:
        case ["check"] | ["check", _]:
            try:
                check()
                if database := words[1] if len(words) > 1 else os.environ.get("LEADLINE_TEST_DATABASE"):
                    check(database=database)
            except CommandError as error:
                print(error, file=sys.stderr)
                return 1
        case ["new", message]:
            new(message)
        case _:
            usage = 'python -m app.store.migrate check [postgresql+psycopg://...] | new "what it does"'
            print(f"usage: {usage}", file=sys.stderr)
            return 2
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
