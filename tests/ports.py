"""A port to start a server on. Between the look and the server's own bind seconds may pass; none of ours takes it."""

import itertools
import os
import socket

_LOWEST, _EACH, _WORKERS = 20_000, 1_000, 12
"""Below 32768, where Linux begins to deal out ports by itself (ip(7), ip_local_port_range): to clients, and to whoever
binds 0. Each of several processes that test has ports of its own."""


def _worker() -> int:
    """Which process of pytest-xdist this is, from 1; 0 where there is only one."""
    return int(os.environ.get("PYTEST_XDIST_WORKER", "gw-1").removeprefix("gw")) + 1


_OFFSETS = itertools.count(os.getpid())


def free_port() -> int:
    """A port that nobody listens at, and that was not given before."""
    first = _LOWEST + _worker() % _WORKERS * _EACH
    for _ in range(_EACH):
        port = first + next(_OFFSETS) % _EACH
        try:
            with socket.create_server(("127.0.0.1", port)):
                return port
        except OSError:
            continue
    raise AssertionError(f"no port of {first} to {first + _EACH} is free")
