"""What the tables stand at is known without Alembic, which takes long to load."""

import subprocess
import sys
from pathlib import Path

from alembic.script import ScriptDirectory

from app.settings import HOME
from app.store.migrate import config_of, revisions

_OPENED = """
import sys
from pathlib import Path
from app.settings import HOME
from app.store.opening import open_store

with open_store(Path(sys.argv[1]), HOME / "migrations"):
    print("alembic" in sys.modules, "mako" in sys.modules)
"""


def _opens(folder: Path) -> str:
    ran = subprocess.run([sys.executable, "-c", _OPENED, str(folder)], capture_output=True, text=True, check=True)
    return ran.stdout.strip()


def test_the_files_names_say_what_alembic_reads_in_them() -> None:
    scripts = ScriptDirectory.from_config(config_of(HOME / "migrations"))
    assert revisions(HOME / "migrations") == [script.revision for script in reversed([*scripts.walk_revisions()])]
    assert revisions(HOME / "migrations")[-1] == scripts.get_current_head()


def test_a_store_whose_tables_are_the_newest_opens_without_alembic_and_a_new_one_with_it(tmp_path: Path) -> None:
    assert _opens(tmp_path / "data") == "True True"
    assert _opens(tmp_path / "data") == "False False"
