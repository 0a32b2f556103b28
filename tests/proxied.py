"""A real nginx with the configuration that Leadline ships, before servers of our own. It judges nothing."""

import os
import shutil
import ssl
import subprocess
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx

from app.cli_deploy import FILES
from tests.ports import free_port

NAME = "board.larkspur.example"
WITHIN_S = 20

MAIN = """
daemon off; worker_processes 1; pid {folder}/nginx.pid; error_log {folder}/errors warn; {user}
events {{ worker_connections 256; }}
http {{
  access_log off;
  client_body_temp_path {folder}/body; proxy_temp_path {folder}/proxy; fastcgi_temp_path {folder}/fastcgi;
  uwsgi_temp_path {folder}/uwsgi; scgi_temp_path {folder}/scgi;
  include {folder}/leadline.conf;
}}
"""


def why_not() -> str:
    """Why there can be no nginx here; empty if there can."""
    missing = [name for name in ("nginx", "openssl") if not _tool(name)]
    return f"There is no {' and no '.join(missing)} on this machine (Debian's packages)." if missing else ""


def _tool(name: str) -> str:
    return shutil.which(name, path=f"{os.environ.get('PATH', '')}:/usr/sbin:/sbin") or ""


@dataclass(frozen=True, slots=True)
class Proxy:
    """Where it listens. `authority`: the certificate that it is to be trusted by."""

    plain_port: int
    sealed_port: int
    authority: Path

    @property
    def origin(self) -> str:
        """As a browser names it that asks by the server's own name."""
        return f"https://{NAME}:{self.sealed_port}"

    def client(self, at: str = "127.0.0.1") -> httpx.Client:
        """A browser at the network address `at` of this machine's loopback, which trusts the certificate."""
        trusted = ssl.create_default_context(cafile=str(self.authority))
        transport = httpx.HTTPTransport(verify=trusted, local_address=at)
        headers = {"Host": f"{NAME}:{self.sealed_port}", "Origin": self.origin}
        return httpx.Client(
            base_url=f"https://127.0.0.1:{self.sealed_port}", transport=transport, headers=headers, timeout=WITHIN_S
        )


def certificate(folder: Path) -> tuple[Path, Path]:
    """A certificate of its own making, and its key."""
    cert, key = folder / "nginx.pem", folder / "nginx.key"
    words = ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes"]
    names = f"subjectAltName=DNS:{NAME},IP:127.0.0.1"
    words += ["-days", "2", "-subj", f"/CN={NAME}", "-addext", names, "-keyout", str(key), "-out", str(cert)]
    subprocess.run(words, check=True, capture_output=True)
    return cert, key


def configuration(changes: Mapping[str, str]) -> str:
    """The shipped file, with each of these texts put in another's place. Each must be there."""
    text = (FILES / "nginx.conf").read_text()
    for old, new in changes.items():
        assert old in text, f"the shipped nginx.conf does not have {old!r}"
        text = text.replace(old, new)
    return text


@contextmanager
def nginx(folder: Path, upstream: int, changes: Mapping[str, str] | None = None) -> Iterator[Proxy]:
    """nginx before the server at this port of the loopback. `changes`: further ones in the shipped file."""
    folder.mkdir()
    cert, key = certificate(folder)
    proxy = Proxy(free_port(), free_port(), cert)
    here = {
        "listen 80;": f"listen 127.0.0.1:{proxy.plain_port};",
        "listen 443 ssl;": f"listen 127.0.0.1:{proxy.sealed_port} ssl;",
        "    listen [::]:80;\n": "",
        "    listen [::]:443 ssl;\n": "",
        "/etc/nginx/leadline.pem": str(cert),
        "/etc/nginx/leadline.key": str(key),
        "127.0.0.1:8765": f"127.0.0.1:{upstream}",
    }
    (folder / "leadline.conf").write_text(configuration(here | dict(changes or {})))
    main = folder / "main.conf"
    main.write_text(MAIN.format(folder=folder, user="user root;" if os.geteuid() == 0 else ""))
    words = [_tool("nginx"), "-p", str(folder), "-e", str(folder / "errors"), "-c", str(main)]
    tried = subprocess.run([*words, "-t"], capture_output=True, text=True, check=False)
    assert tried.returncode == 0, tried.stderr
    process = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        _until_it_listens(proxy)
        yield proxy
    finally:
        process.terminate()
        process.wait(WITHIN_S)


def _until_it_listens(proxy: Proxy) -> None:
    until = time.monotonic() + WITHIN_S
    while True:
        try:
            httpx.get(f"http://127.0.0.1:{proxy.plain_port}/", timeout=WITHIN_S)
        except httpx.TransportError:
            if time.monotonic() > until:
                raise
            time.sleep(0.05)
        else:
            return
