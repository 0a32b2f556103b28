"""Reads the files of a folder in a process of its own and says what each took. It judges nothing.

``python -m tests.reading.alone FOLDER`` prints a line of JSON for each file, in order of name: its faults, the seconds
of the processor that its reader took, and the most memory (MB) that the process, interpreter and all, ever had until
then; 0 where the system does not say. (`ru_maxrss` would not do: it begins with that of its parent.) The ending of
a file says its kind; ``.marks`` is a table of marks.
"""

import json
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

from app.reading.faults import PlacedFault
from app.reading.files import read_file
from app.reading.marks import read_marks

STATUS = Path("/proc/self/status")


def read_alone(folder: Path) -> dict[str, dict[str, Any]]:
    """What `python -m tests.reading.alone` says of a folder, by file name."""
    words = [sys.executable, "-m", __name__, str(folder)]
    done = subprocess.run(words, capture_output=True, text=True, timeout=900, check=True)
    return {said["file"]: said for said in map(json.loads, done.stdout.splitlines())}


def _faults(file: Path, data: bytes) -> tuple[PlacedFault, ...]:
    return read_marks(data).faults if file.suffix == ".marks" else read_file(data, file.name).faults


def _most_mb() -> float:
    """VmHWM, proc_pid_status(5)."""
    if not STATUS.exists():
        return 0
    return next(int(line.split()[1]) for line in STATUS.read_text().splitlines() if line.startswith("VmHWM")) / 1024


def _read(file: Path) -> dict[str, Any]:
    data = file.read_bytes()
    began = time.process_time()
    faults = _faults(file, data)
    seconds = time.process_time() - began
    return {
        "file": file.name,
        "seconds": seconds,
        "most_mb": _most_mb(),
        "faults": [[each.where, each.what, each.remedy] for each in faults if not each.remark],
    }


if __name__ == "__main__":
    for each in sorted(Path(sys.argv[1]).iterdir()):
        sys.stdout.write(json.dumps(_read(each)) + "\n")
