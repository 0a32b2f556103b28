"""What makes a name and a password, and how a password is kept. It knows no account."""

import secrets
import threading
import unicodedata
from functools import cache
from typing import TYPE_CHECKING

from app.core.commands import Refusal

if TYPE_CHECKING:
    from pwdlib import PasswordHash

LONGEST_NAME = 40
SHORTEST_PASSWORD, LONGEST_PASSWORD = 8, 64
"""NIST SP 800-63B, 5.1.1.2 (from memory): at least 8 characters, and 64 must be let through."""
LEAST_SIGNS = 4
"""Fewer different characters than this are no password (our own rule)."""

RESERVED = frozenset({"leadline", "api"})
"""Names under which the log already has entries of other kinds."""

# One at a time: each takes 64 MB, and the marks of those who are signed in must not wait for it.
_hashing = threading.Lock()


@cache
def _hasher() -> "PasswordHash":
    """argon2id with RFC 9106's second recommended parameters (64 MiB, 3 passes), as pwdlib has them by default."""
    from pwdlib import PasswordHash  # here, so that a server without accounts starts without it
    from pwdlib.hashers.argon2 import Argon2Hasher

    return PasswordHash((Argon2Hasher(),))


def hashed(password: str) -> str:
    """The PHC string of a password that `sound_password` gave."""
    with _hashing:
        return _hasher().hash(password)


def fits(password: str, kept: str | None) -> bool:
    """Whether the password is the one kept. With None, of an unknown name, it takes as long and is never so: the time
    taken must not tell who has an account."""
    text = unicodedata.normalize("NFC", password[: 4 * LONGEST_PASSWORD])
    if len(text) > LONGEST_PASSWORD or not _is_text(text):
        return False
    against = kept if kept is not None else _nobodys()
    with _hashing:
        return _hasher().verify(text, against) and kept is not None


@cache
def _nobodys() -> str:
    return hashed(secrets.token_urlsafe(16))


def folded(name: str) -> str:
    """What makes two names the same: case, spacing and the width of letters do not tell them apart."""
    return unicodedata.normalize("NFKC", " ".join(name.split())).casefold()[:200]


_UNSEEN = (
    *((0xAD, 0xAD), (0x34F, 0x34F), (0x61C, 0x61C), (0x115F, 0x1160), (0x17B4, 0x17B5), (0x180B, 0x180F)),
    *((0x200B, 0x200F), (0x202A, 0x202E), (0x2060, 0x206F), (0x2800, 0x2800), (0x3164, 0x3164), (0xFE00, 0xFE0F)),
    *((0xFEFF, 0xFEFF), (0xFFA0, 0xFFA0), (0xFFF0, 0xFFF8), (0x1BCA0, 0x1BCA3), (0x1D173, 0x1D17A), (0xE0000, 0xE0FFF)),
)
"""Unicode's Default_Ignorable_Code_Point (from memory), and the blank of Braille: two names that differ in these alone
look the same."""


def is_seen(sign: str) -> bool:
    """Whether a character of a name can be seen, or is a space."""
    return sign.isprintable() and not any(first <= ord(sign) <= last for first, last in _UNSEEN)


def _is_text(said: str) -> bool:
    """Whether UTF-8 can carry it: a lone surrogate it cannot."""
    return not any("\ud800" <= sign <= "\udfff" for sign in said)


def sound_name(said: str) -> str:
    """The name as it is kept.

    Raises:
        Refusal: it has no printable characters, too many, or others.
    """
    name = unicodedata.normalize("NFC", " ".join(said.split()))
    if not name or len(name) > LONGEST_NAME or not all(map(is_seen, name)) or not _is_text(name):
        raise Refusal("bad-name", f"A name has 1 to {LONGEST_NAME} printable characters.")
    if folded(name) in RESERVED:
        raise Refusal("bad-name", f"The log uses the name {name} for other entries; choose another.")
    return name


def sound_password(said: str, name: str) -> str:
    """The password as it is hashed: every character counts, spaces too.

    Raises:
        Refusal: it is too short, too long or too easy.
    """
    text = unicodedata.normalize("NFC", said)
    if not SHORTEST_PASSWORD <= len(text) <= LONGEST_PASSWORD or not _is_text(text):
        raise Refusal("bad-password", f"A password has {SHORTEST_PASSWORD} to {LONGEST_PASSWORD} characters.")
    if folded(text) == folded(name) or len(set(text)) < LEAST_SIGNS:
        raise Refusal("bad-password", "That password is too easy to guess; choose another.")
    return text
