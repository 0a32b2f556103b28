"""A start program with a fault planted: ``python -m tests.harm.program FAULT serve ...``. For controls only.

Each fault is one that the harness must notice. None of them can be switched on in the product.
"""

import sys
import time
from collections.abc import Callable, Sequence
from typing import Any, cast

from app.store import engine, writer


def normal_synchronous() -> None:
    """Commits that do not wait for the disk: a power cut would lose what was acknowledged."""
    pragmas = [each for each in engine.WRITER_PRAGMAS if not each.startswith("synchronous")]
    cast(Any, engine).WRITER_PRAGMAS = (*pragmas, "synchronous=NORMAL")


def answer_early() -> None:
    """Orders answered a little before the commit: a crash loses what was acknowledged."""
    rightly = writer.Writer._answer

    def eagerly(self: Any, batch: Sequence[Any]) -> None:
        if not all("Service._write" in job.work.__qualname__ for job in batch):
            rightly(self, batch)  # A run that was started must be there for the orders.
            return
        with self._connection().begin() as whole:
            for job in batch:
                outcome = self._alone(whole.connection, job.work, first=True)
                if outcome.error is None:
                    job.future.set_result(outcome.value)
                else:
                    job.future.set_exception(outcome.error)
            time.sleep(0.05)

    cast(Any, writer.Writer)._answer = eagerly


FAULTS: dict[str, Callable[[], None]] = {"normal": normal_synchronous, "early": answer_early}


def main() -> None:
    """Plant the fault, then be `leadline` with the words that are left."""
    FAULTS[sys.argv.pop(1)]()
    from app.cli import main as leadline

    leadline()


if __name__ == "__main__":
    main()
