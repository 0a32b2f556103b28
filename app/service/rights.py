"""What somebody may do, and who may try a password: names and values, without accounts. It stores nothing."""

import ipaddress
from dataclasses import dataclass

from app.core.commands import Refusal
from app.service.throttle import Taken

RIGHTS = ("watch", "mark", "lead", "train", "keep")
"""What somebody may do, each with all that stands before it: look; enter what is called; decide; rule the
clock of a rehearsal, its simulated people and its trouble; keep people."""


class TooMany(Refusal):
    """Too many wrong tries. `wait_s`: after so many whole seconds the next one is let through."""

    def __init__(self, wait_s: int, why: str = "There were too many wrong tries.") -> None:
        super().__init__("too-many", f"{why} Wait {wait_s} s, then try again.")
        self.wait_s = wait_s


@dataclass(frozen=True, slots=True)
class Admitted:
    """Somebody who may try a password. `known`: their browser was signed in as this account before.

    `taken`: the try, to be given back if it was right or never looked at.
    """

    account: str
    address: str
    known: bool
    taken: Taken


def allows(may: str, needed: str) -> bool:
    """Whether somebody with one right may do what needs another."""
    return RIGHTS.index(may) >= RIGHTS.index(needed)


def sound_right(said: str) -> str:
    """One of RIGHTS. Raises Refusal: it is none."""
    if said not in RIGHTS:
        raise Refusal("unknown", f"Somebody may {', '.join(RIGHTS[:-1])} or {RIGHTS[-1]}, not “{said[:20]}”.")
    return said


def network_of(address: str) -> str:
    """What a station is told by: an IPv4 address, or the 64 bits of an IPv6 one that a network gives out whole."""
    try:
        found = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return address
    if isinstance(found, ipaddress.IPv4Address):
        return str(found)
    mapped = found.ipv4_mapped
    return str(mapped) if mapped else str(ipaddress.ip_network((found, 64), strict=False))
