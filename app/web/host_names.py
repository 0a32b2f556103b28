"""Names of a server, as a Host header carries them. It asks no network for one, and refuses no request."""

import ipaddress
import re
from urllib.parse import urlsplit

_NAME = re.compile(r"(?=.{1,253}$)[a-z0-9_]([a-z0-9_-]{0,61}[a-z0-9_])?(\.[a-z0-9_]([a-z0-9_-]{0,61}[a-z0-9_])?)*")
"""Letters, digits and hyphens (RFC 1123, 2.1), and the underscore, which is common in names at home."""


def plain(host: str) -> str:
    """One form for all ways to write a name: lower case, no dot at its end, an address as short as it can be."""
    bare = host.lower().removesuffix(".")
    if bare.startswith("[") and bare.endswith("]"):
        bare = bare[1:-1]
    try:
        return ipaddress.ip_address(bare).compressed
    except ValueError:
        return bare


def never_asked_for(name: str) -> str | None:
    """Why no browser ever asks for a server by this name, and what to give instead; None if one may."""
    found = plain(name)
    if _NAME.fullmatch(found) or (":" in found and is_address(found)):
        return None
    if "*" in name:
        return "each name is given by itself, and * stands for none"
    inside = _within(name)
    if inside:
        return f"give the name alone, without scheme, port or path: {inside}"
    if not name.isascii() and (coded := _coded(found)):
        return f"browsers ask for it as {coded}; give that"
    return "a name has letters, digits, hyphens and dots alone"


def origin_of(text: str) -> str | None:
    """The origin in an address such as ``https://board.example:8765/`` (RFC 6454, 6.2); None if it is none, or more."""
    try:
        found = urlsplit(text)
        name, port = found.hostname or "", found.port
    except ValueError:
        return None
    bare = not (found.query or found.fragment or found.username or found.password) and found.path in ("", "/")
    if found.scheme not in ("http", "https") or not bare or never_asked_for(name):
        return None
    host = f"[{name}]" if ":" in name else name
    return f"{found.scheme}://{host}{'' if port in (None, _USUAL[found.scheme]) else f':{port}'}"


_USUAL = {"http": 80, "https": 443}


def is_address(text: str) -> bool:
    """Whether it is an IP address, of either kind, without brackets."""
    try:
        return ipaddress.ip_address(text) is not None
    except ValueError:
        return False


def _within(text: str) -> str | None:
    """The name in an address such as ``https://board.example:8765/``."""
    try:
        found = urlsplit(text if "://" in text else f"//{text}").hostname or ""
    except ValueError:
        return None
    return found if found != text and _NAME.fullmatch(plain(found)) else None


def _coded(name: str) -> str | None:
    try:
        found = name.encode("idna").decode()
    except UnicodeError:
        return None
    return found if _NAME.fullmatch(found) else None
