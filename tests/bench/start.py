"""From a cold start to the first answer, and the memory then, with the samples loaded: in a data folder that is there,
as when a server is started again, and in a new one, where the tables have to be made.

The budget is by the clock. The ratio to the imports alone, timed in turn, says what a busy machine has added. NumPy is
loaded by the first one who looks ahead and not by the start; that is measured too. Python keeps what it has compiled,
as an installation does at once, so one start before those that count is let do that.
"""

import statistics
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path

from tests.bench.report import Figure, Measures, Row, spread
from tests.bench.serving import folder, leadline
from tests.pace import IMPORTS

TIMES = 5
_ALONE = f"""
{IMPORTS}
print(next((line.split()[1] for line in open("/proc/self/status") if line.startswith("VmRSS")), 0))
"""


@dataclass(slots=True)
class _Starts:
    """Of each start: seconds to the first answer, seconds of the processor, megabytes, whether NumPy was loaded."""

    ready: list[float] = field(default_factory=list)
    busy: list[float] = field(default_factory=list)
    memory: list[float] = field(default_factory=list)
    with_numpy: int = 0

    def once(self, data: Path | None) -> None:
        with leadline(data=data) as served:
            self.ready.append(served.ready_s)
            self.busy.append(served.busy_s())
            self.memory.append(served.memory_mb())
            self.with_numpy += served.has_loaded("numpy")


def _ready() -> Row:
    new, again, alone, alone_mb = _Starts(), _Starts(), list[float](), list[float]()
    with folder() as made:
        first = _Starts()
        first.once(made / "data")
        for _ in range(TIMES):
            again.once(made / "data")
            new.once(None)
            began = time.perf_counter()
            said = subprocess.run([sys.executable, "-c", _ALONE], capture_output=True, text=True, check=True)
            alone.append(time.perf_counter() - began)
            alone_mb.append(int(said.stdout) / 1024)
    reference_s, reference_mb = statistics.median(alone), statistics.median(alone_mb)
    return Row(
        "Server ready from a cold start",
        (
            *spread(again.ready, "s", p50=1.2, name="first answer"),
            Figure("of the processor, median", statistics.median(again.busy), "s"),
            Figure("in imports alone", statistics.median(again.ready) / reference_s, "x"),
            Figure("first answer in a new folder, p50", statistics.median(new.ready), "s", 1.2),
            Figure("that of the processor, median", statistics.median(new.busy), "s"),
            Figure("the start before all, which may compile", first.ready[0], "s"),
            Figure("resident memory", statistics.median([*again.memory, *new.memory]), "MB", 130),
            Figure("starts that loaded NumPy", again.with_numpy + new.with_numpy, "", 0),
        ),
        f"importing fastapi, sqlmodel, jinja2 and numpy alone: {reference_s:.2f} s, {reference_mb:.0f} MB",
    )


ROWS: Measures = {"": _ready}
