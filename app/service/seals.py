"""Tokens that only this data folder can have made: for forms, and for browsers. It keeps none and knows no person."""

import hashlib
import hmac
import re
import secrets

_NONCE = re.compile(r"[0-9a-f]{16}")


class Seals:
    """HMAC with SHA-256 (RFC 2104) under the folder's secret."""

    def __init__(self, secret: bytes) -> None:
        self._secret = secret

    def form(self, of: str) -> str:
        """For the forms of a session or station: 32 hex signs."""
        return self._sealed(f"form {of}")[:32]

    def notice(self, of: str) -> str:
        """For the word of what was just done, in an address: 32 hex signs."""
        return self._sealed(f"notice {of}")[:32]

    def database(self) -> str:
        """A name for what has this secret: 8 hex signs."""
        return self._sealed("database")[:8]

    def device(self, account: str, password: str) -> str:
        """For a browser. `account`: the name, folded. `password`: its hash; a new one ends what the old began."""
        nonce = secrets.token_hex(8)
        return f"{nonce}.{self._device(nonce, account, password)}"

    def is_device(self, token: str, account: str, password: str) -> bool:
        """Whether `device` made it for this account and password."""
        nonce, _, seal = token.partition(".")
        if not _NONCE.fullmatch(nonce):
            return False
        return hmac.compare_digest(seal.encode("utf-8", "replace"), self._device(nonce, account, password).encode())

    def _device(self, nonce: str, account: str, password: str) -> str:
        return self._sealed(f"device {nonce} {password} {account}")

    def _sealed(self, said: str) -> str:
        return hmac.new(self._secret, said.encode("utf-8", "replace"), hashlib.sha256).hexdigest()
