"""Tells systemd how the server is doing (sd_notify(3)), where it asked to be told. It starts and stops nothing."""

import os
import socket
from collections.abc import MutableMapping


class Notice:
    """The socket of ``NOTIFY_SOCKET``, if systemd gave one. It is taken from the environment: a child must not speak.

    What can't be told is let go: a server serves on though nobody hears of it.
    """

    def __init__(self, environ: MutableMapping[str, str] = os.environ) -> None:
        named = environ.pop("NOTIFY_SOCKET", "")
        # A name that begins with @ is an abstract one (unix(7)): its first byte is zero.
        self._name = f"\0{named[1:]}" if named.startswith("@") else named

    def ready(self, status: str) -> None:
        """It serves; `status` is what ``systemctl status`` shows, one line."""
        if not self._name:
            return
        try:
            with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as speaking:
                speaking.setblocking(False)
                speaking.sendto(f"READY=1\nSTATUS={status}".encode(), self._name)
        except OSError:
            pass
