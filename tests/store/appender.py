"""Run as a program: open the store in a folder and append for ever, printing each key once it is acknowledged."""

import sys
from concurrent.futures import Future
from itertools import count
from pathlib import Path
from typing import Any

from app.store import journal, library
from app.store.sqlite_store import SqliteStore
from app.store.store import Store
from tests.store.making import MIGRATIONS, SENT, a_run, entry

AT_ONCE = 8


def main(folder: str) -> None:
    with SqliteStore(Path(folder), MIGRATIONS, address="a test") as store:
        runs = store.read(library.runs)
        run = runs[0].run if runs else a_run(store)
        first, _ = store.read(lambda conn: journal.head(conn, run))
        print("run", run, flush=True)
        for number in count(first):
            keys = [f"{number}-{part}" for part in range(AT_ONCE)]
            for key, future in [(key, _send(store, run, key)) for key in keys]:
                future.result()
                print(key, flush=True)


def _send(store: Store, run: int, key: str) -> Future[Any]:
    """One command of two events, so that half a command would show."""
    return store.write(lambda conn: journal.append(conn, run, [entry(), entry()], key, SENT, key))


if __name__ == "__main__":
    main(sys.argv[1])
