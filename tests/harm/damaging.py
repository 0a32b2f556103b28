"""Figures on damaged files: they are told of in words, whatever is wrong with them, and never taken for whole."""

import random
import re
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path
from typing import Any

from app.settings import HOME
from app.store.engine import FILE_NAME
from app.store.sound import GUARDED
from tests.served import called
from tests.store.released import populated, rows_of

WRONG = (b"\xff\xfe", "\x00", "a\x1b[31m\nb", -1, 2**62, 1.5, "[" * 5000, "9" * 5000, '{"a":1e999}', "\u202e", None)
"""Values that no column of the record may hold."""

LOAD = ("load", HOME / "procedures" / "balloon-launch.yaml")
"""The last, for it opens the folder as a server does, and writes into it."""


def damaged_files(files: int = 300, seed: int = 20310504) -> dict[str, Any]:
    """Damage whole files at random, and have the commands look at them: never a traceback, nothing unnoticed."""
    pick = random.Random(seed)
    broken: list[str] = []
    noticed, refused, sound = 0, 0, 0
    with populated() as data, tempfile.TemporaryDirectory() as scratch:
        whole, before = data / FILE_NAME, rows_of(data / FILE_NAME, ("event", "run"))
        for number in range(files):
            folder = Path(scratch) / str(number)
            folder.mkdir()
            how = _damage(whole, folder / FILE_NAME, pick)
            said = _looked_at(folder, how, broken)
            refused += "can't be read" in said or "could not be opened" in said or "no database" in said
            noticed += bool(said)
            if not said:
                sound += 1
                if rows_of(folder / FILE_NAME, ("event", "run")) != before:
                    broken.append(f"not noticed: {how}")
    return {
        "files": files,
        "told to be damaged": noticed,
        "harmless": sound,
        "not read at all": refused,
        "broken": broken,
    }


def _looked_at(folder: Path, how: str, broken: list[str]) -> str:
    """What `verify` said; empty when it found all whole. `backup` and `restore` must only not lose their heads."""
    found = ""
    for words in (("verify",), ("verify", 1), ("backup", "copy"), ("restore", folder / FILE_NAME), LOAD):
        where = ("--data", folder / "new" if words[0] == "restore" else folder)
        try:
            said = called(*words, *where, folder=folder)
        except Exception as error:  # noqa: BLE001 - whatever it is, it is what must not be
            broken.append(f"{how}: leadline {words[0]} raised {type(error).__name__}: {error}")
            continue
        if said.returncode not in (0, 1) or (said.returncode == 1) is not bool(said.stderr.strip()):
            broken.append(f"{how}: leadline {words[0]} ended with {said.returncode} and said {said.stderr!r}")
        found = said.stderr if words == ("verify",) else found
    return found


def _damage(whole: Path, to: Path, pick: random.Random) -> str:
    """Write a damaged copy. Returns what was done to it."""
    data = bytearray(whole.read_bytes())
    match pick.randrange(8):
        case 0:
            end = pick.randrange(len(data))
            how, data = f"cut at byte {end}", data[:end]
        case 1:
            place, size = pick.randrange(len(data)), pick.randrange(1, 5000)
            data[place : place + size] = bytes(len(data[place : place + size]))
            how = f"{size} zeros at {place}"
        case 2:
            one, other = (4096 * pick.randrange(len(data) // 4096) for _ in range(2))
            data[one : one + 4096], data[other : other + 4096] = data[other : other + 4096], data[one : one + 4096]
            how = f"pages at {one} and {other} swapped"
        case 3:
            place = pick.randrange(100)
            data[place] = pick.randrange(256)
            how = f"header byte {place} is {data[place]}"
        case 4:
            return _wrong_values(whole, to, pick)
        case _:
            places = [pick.randrange(len(data)) for _ in range(pick.choice((1, 1, 1, 3, 30)))]
            for place in places:
                data[place] ^= 1 << pick.randrange(8)
            how = f"bits flipped at {places}"
    to.write_bytes(data)
    return how


def _wrong_values(whole: Path, to: Path, pick: random.Random) -> str:
    """A value of any type, in tables that were made to take it."""
    to.write_bytes(whole.read_bytes())
    with closing(sqlite3.connect(to, isolation_level=None)) as raw:
        raw.execute("PRAGMA writable_schema=ON")
        for name, said in raw.execute("SELECT name, sql FROM sqlite_master WHERE type = 'table'").fetchall():
            loose = re.sub(r",?\s*STRICT\s*$", "", said.replace("NOT NULL", ""))
            raw.execute("UPDATE sqlite_master SET sql = ? WHERE name = ?", (loose, name))
    with closing(sqlite3.connect(to, isolation_level=None)) as raw:
        guards = raw.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in guards:
            raw.execute(f"DROP TRIGGER {name}")
        table, value = pick.choice((*GUARDED, "alembic_version")), pick.choice(WRONG)
        column = pick.choice([str(row[1]) for row in raw.execute(f"PRAGMA table_info({table})")])
        place = "CAST(? AS TEXT)" if isinstance(value, bytes) else "?"  # Text that is not UTF-8.
        held = sorted({row[0] for row in raw.execute(f'SELECT "{column}" FROM {table}')}, key=repr) or [None]
        how = f"{table}.{column} is {str(value)[:12]!r} of {type(value).__name__}"
        try:
            raw.execute(f'UPDATE {table} SET "{column}" = {place} WHERE "{column}" IS ?', (value, pick.choice(held)))
        except sqlite3.Error as error:
            how += f" (refused: {error})"
        for _, said in guards:
            raw.execute(said)
    return how
