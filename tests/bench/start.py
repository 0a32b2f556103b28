"""From a cold start to the first answer, and the memory then: a fresh data folder, the samples loaded.

The budget is by the clock. The ratio to the imports alone, timed in turn, says what a busy machine has added. NumPy is
loaded by the first one who looks ahead and not by the start; that is measured too.
"""

import statistics
import subprocess
import sys
import time

from tests.bench.report import Figure, Row
from tests.bench.serving import leadline
from tests.pace import IMPORTS

TIMES = 5
_ALONE = f"""
{IMPORTS}
print(next((line.split()[1] for line in open("/proc/self/status") if line.startswith("VmRSS")), 0))
"""


def rows() -> list[Row]:
    ready, memory, loaded, alone, alone_mb = [], [], [], [], []
    for _ in range(TIMES):
        with leadline() as served:
            ready.append(served.ready_s)
            memory.append(served.memory_mb())
            loaded.append(served.has_loaded("numpy"))
        began = time.perf_counter()
        said = subprocess.run([sys.executable, "-c", _ALONE], capture_output=True, text=True, check=True)
        alone.append(time.perf_counter() - began)
        alone_mb.append(int(said.stdout) / 1024)
    reference = f"{statistics.median(alone):.2f} s, {statistics.median(alone_mb):.0f} MB"
    return [
        Row(
            "Server ready from a cold start",
            (
                Figure("first answer, median", statistics.median(ready), "s", 1.2),
                Figure("in imports alone", statistics.median(ready) / statistics.median(alone), "x"),
                Figure("resident memory", statistics.median(memory), "MB", 130),
                Figure("starts that loaded NumPy", sum(loaded), "", 0),
            ),
            f"importing fastapi, sqlmodel, jinja2 and numpy alone: {reference}",
        )
    ]
