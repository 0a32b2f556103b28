"""The headers that every answer carries, an error of ours included. It reads no request and answers none."""

from starlette.datastructures import MutableHeaders

HEADERS = {
    # Everything comes from this server; no inline script or style; nobody may frame the page.
    "Content-Security-Policy": "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    # For browsers that do not know frame-ancestors; no window or page of another site may reach into this one.
    "X-Frame-Options": "DENY",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
}

AT_ONCE = {"X-Accel-Buffering": "no"}
"""What an nginx on the way is told about a stream, so that it holds no message back: its manual, `proxy_buffering`."""


def make_safe(headers: MutableHeaders, kept: bool = False) -> None:
    """Add what an answer does not say itself. `kept`: for a year, because the address has a version in it."""
    for name, value in HEADERS.items():
        headers.setdefault(name, value)
    headers.setdefault("Cache-Control", "max-age=31536000, immutable" if kept else "no-store")
