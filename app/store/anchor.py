"""The file in a data folder by which the next server of this boot sees a step of the wall clock. It reads no clock."""

import json
from datetime import UTC, datetime
from pathlib import Path

from app.store.clock import Anchor
from app.store.place import replace_private

ANCHOR_NAME = "leadline.clock"


def read_anchor(data_dir: Path) -> Anchor | None:
    """What `keep_anchor` wrote last; None if there is nothing that can be read."""
    try:
        said = json.loads((data_dir / ANCHOR_NAME).read_text(encoding="ascii"))
        return Anchor(str(said["boot"]), datetime.fromisoformat(said["utc"]).astimezone(UTC), float(said["steady_s"]))
    except (OSError, ValueError, KeyError, TypeError, OverflowError):
        return None


def keep_anchor(data_dir: Path, anchor: Anchor) -> None:
    """Write it whole or not at all. It need not outlive a power cut: that ends the boot.

    Raises:
        OSError: it can't be written; the one before stays.
    """
    said = {"boot": anchor.boot, "utc": anchor.utc.isoformat(), "steady_s": anchor.steady_s}
    replace_private(data_dir / ANCHOR_NAME, json.dumps(said).encode())
