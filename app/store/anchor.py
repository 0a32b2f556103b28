"""The file in a data folder by which the next server of this boot goes on with the steady clock. It reads no clock."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from app.store.clock import MOST_S, Anchor
from app.store.place import replace_private

ANCHOR_NAME = "leadline.clock"


@dataclass(frozen=True, slots=True)
class Kept:
    """What the file holds.

    `zeros`: of each run that was seen in this boot, its `zero_utc` as text, which tells it from one that had its number
    before a restore, and its `RunClock.zero_s`.
    """

    anchor: Anchor
    zeros: Mapping[int, tuple[str, float]] = field(default_factory=dict)


def read_kept(data_dir: Path) -> Kept | None:
    """What `keep` wrote last; None if there is nothing that can be read and be."""
    file = data_dir / ANCHOR_NAME
    try:
        if not file.is_file():  # A pipe of that name would be waited for.
            return None
        said = json.loads(file.read_text(encoding="ascii"))
        at = datetime.fromisoformat(said["utc"]).astimezone(UTC)
        zeros = {int(run): (str(utc), _bounded(zero_s)) for run, (utc, zero_s) in said["zeros"].items()}
        return Kept(Anchor(str(said["boot"]), at, float(said["steady_s"])), zeros)
    except (OSError, ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError):
        return None


def _bounded(zero_s: object) -> float:
    if not isinstance(zero_s, int | float) or not -MOST_S < zero_s < MOST_S:
        raise ValueError("no clock shows that")
    return float(zero_s)


def keep(data_dir: Path, kept: Kept) -> None:
    """Write it whole or not at all. It need not outlive a power cut: that ends the boot.

    Raises:
        OSError: it can't be written; the one before stays.
    """
    anchor = kept.anchor
    said = {"boot": anchor.boot, "utc": anchor.utc.isoformat(), "steady_s": anchor.steady_s, "zeros": kept.zeros}
    replace_private(data_dir / ANCHOR_NAME, json.dumps(said).encode())
