"""The head of a run's log as people keep it elsewhere: `SEQ:HASH`. It reads no log and checks none."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from app.core.events import Logged

HASH_SIGNS = 64
"""A chain value is a SHA-256 in hex."""

LEAST_SIGNS = 12
"""Fewer signs of a hash, copied by hand, might be met by chance (16^12 is 2.8e14; our own bound, no source)."""

_KEPT = re.compile(rf"(?:([0-9]{{1,15}}):)?([0-9a-fA-F]{{{LEAST_SIGNS},{HASH_SIGNS}}})")


class HeadFault(ValueError):
    """What was given is no head; ``str()`` says what one looks like."""


@dataclass(frozen=True, slots=True)
class Head:
    """A head kept elsewhere. `hash`: 12 to 64 hex signs in small letters; `seq` is None where it was not kept."""

    seq: int | None
    hash: str

    def is_at(self, seq: int, chain: str) -> bool:
        """Whether the log has this head at `seq`, where its chain is `chain`."""
        return self.seq in (None, seq) and chain.startswith(self.hash)

    def __str__(self) -> str:
        shown = self.hash if len(self.hash) == HASH_SIGNS else f"{self.hash}…"
        return shown if self.seq is None else f"{self.seq}:{shown}"


def head_words(seq: int, chain: str) -> str:
    """How a head is written everywhere: ``57:9f86d0...``, all 64 signs of the chain."""
    return f"{seq}:{chain}"


def head_of(log: Sequence[Logged]) -> str:
    """The head of a log, written; empty for a log without events."""
    return head_words(log[-1].seq, log[-1].chain) if log else ""


def read_head(said: str) -> Head:
    """A head as it was printed: ``SEQ:HASH``, the hash alone, or at least its first twelve signs.

    Raises:
        HeadFault: it is none of these.
    """
    found = _KEPT.fullmatch(said.strip())
    if found is None:
        shown = "".join(sign if sign.isprintable() else "?" for sign in said.strip()[:40])
        raise HeadFault(
            f"“{shown}” is no chain head. One is written SEQ:HASH, as exports print it; "
            f"the hash alone will do, or its first {LEAST_SIGNS} signs (0-9, a-f) and more"
        )
    seq, name = found.groups()
    return Head(None if seq is None else int(seq), name.lower())
