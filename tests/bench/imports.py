"""``python -m tests.bench.imports``: where the time goes in which the server's own modules are imported.

What they stand on is imported before and not counted. Seconds of the processor, the best of several processes.
"""

import subprocess
import sys

TIMES = 5
_SPLIT = """
import time
began = time.process_time()
import fastapi, sqlmodel, uvicorn, jinja2, typer, ruamel.yaml
stands_on = time.process_time() - began
import dataclasses
from fastapi import APIRouter
from pydantic._internal._model_construction import ModelMetaclass

spent, counts = {}, {}

def timed(owner, name, what):
    inner = getattr(owner, name)
    def outer(*args, **more):
        since = time.process_time()
        made = inner(*args, **more)
        spent[what] = spent.get(what, 0) + time.process_time() - since
        counts[what] = counts.get(what, 0) + 1
        return made
    setattr(owner, name, outer)

timed(dataclasses, "_process_class", "data-classes")
timed(APIRouter, "add_api_route", "routes")
timed(ModelMetaclass, "__new__", "models")
began = time.process_time()
import app.cli, app.serving
own = time.process_time() - began
print(own, stands_on, *(f"{each} {spent[each]} {counts[each]}" for each in spent))
"""


def main() -> None:
    """Print a line for each."""
    said = [_measured() for _ in range(TIMES)]
    own, stands_on, *rest = min(said, key=lambda words: float(words[0]))
    print(f"what the server stands on: {float(stands_on):.2f} s; its own modules: {float(own):.2f} s, of which")
    for what, spent, count in zip(rest[::3], rest[1::3], rest[2::3], strict=True):
        print(f"    {what.replace('-', ' '):14} {count:>4} {float(spent):.2f} s, {float(spent) / float(own):.0%}")


def _measured() -> list[str]:
    ran = subprocess.run([sys.executable, "-c", _SPLIT], capture_output=True, text=True, check=True)
    return ran.stdout.split()


if __name__ == "__main__":
    main()
