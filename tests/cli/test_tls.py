"""https with an authority of one's own, made as the README says; and certificates that are none, each a sentence."""

import re
import shutil
import ssl
import subprocess
from pathlib import Path

import httpx
import pytest

from app.settings import HOME
from tests.ports import free_port
from tests.served import LEADLINE, called, environment


def commands() -> str:
    """The shell lines of the README."""
    found = re.search(r"```sh\n(openssl .*?)```", (HOME / "README.md").read_text(), re.S)
    assert found
    return found[1]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with an authority and the server's certificate."""
    if shutil.which("openssl") is None:
        pytest.skip("openssl is not on this machine, and the README's commands are its")
    folder = tmp_path_factory.mktemp("tls")
    subprocess.run(["sh", "-e", "-c", commands()], cwd=folder, check=True, capture_output=True)
    return folder


def test_the_commands_of_the_readme_make_a_server_that_a_browser_trusts(made: Path, tmp_path: Path) -> None:
    port = free_port()
    words = [
        "serve",
        "--port",
        str(port),
        "--tls-cert",
        str(made / "server.pem"),
        "--tls-key",
        str(made / "server.key"),
    ]
    words += ["--known-as", "board.larkspur.example"]
    process = subprocess.Popen([*LEADLINE, *words], cwd=tmp_path, env=environment(), stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout is not None
        said = [process.stdout.readline(), process.stdout.readline()]
        assert said[1] == f"Leadline is at https://127.0.0.1:{port}/\n"
        trusted = ssl.create_default_context(cafile=str(made / "authority.pem"))
        trusted.minimum_version = ssl.TLSVersion.TLSv1_2
        with httpx.Client(base_url=f"https://127.0.0.1:{port}", verify=trusted) as client:
            home = client.get("/")
            assert home.status_code == 200
            token = re.search(r'data-token="([0-9a-f]{32})"', home.text)
            assert token
            sent = {"name": "Ines", "token": token[1]}
            ours, plain = {"Origin": f"https://127.0.0.1:{port}"}, {"Origin": f"http://127.0.0.1:{port}"}
            assert client.post("/name", data=sent, headers=ours).status_code == 303
            assert client.post("/name", data=sent, headers=plain).status_code == 403, "another scheme is another origin"
            assert client.get("/api/me", headers={"Host": f"board.larkspur.example:{port}"}).status_code == 200
        with pytest.raises(httpx.ConnectError), httpx.Client() as stranger:
            stranger.get(f"https://127.0.0.1:{port}/")
    finally:
        process.terminate()
        process.communicate(timeout=10)


def test_a_certificate_that_is_none_is_a_sentence(made: Path, tmp_path: Path) -> None:
    cert, key, other = made / "server.pem", made / "server.key", made / "authority.key"
    empty, gone = tmp_path / "empty.pem", tmp_path / "gone.pem"
    empty.write_text("")
    cases: list[tuple[list[str | Path], str]] = [
        (["--tls-cert", cert], "needs both --tls-cert and --tls-key"),
        (["--tls-key", key], "needs both --tls-cert and --tls-key"),
        (["--tls-cert", cert, "--tls-key", other], "are no certificate and its key"),
        (["--tls-cert", empty, "--tls-key", key], "are no certificate and its key"),
        (["--tls-cert", gone, "--tls-key", key], "can't be read: No such file or directory"),
    ]
    for words, why in cases:
        found = called("serve", "--port", free_port(), *words, folder=tmp_path)
        assert found.returncode == 1, words
        assert why in found.stderr
        assert "Traceback" not in found.stderr


def test_a_key_locked_by_a_password_is_a_sentence_and_asks_for_none(made: Path, tmp_path: Path) -> None:
    locked = tmp_path / "locked.key"
    words = ["openssl", "ec", "-in", str(made / "server.key"), "-aes256", "-passout", "pass:heron", "-out", str(locked)]
    subprocess.run(words, check=True, capture_output=True)
    found = called(
        "serve", "--port", free_port(), "--tls-cert", made / "server.pem", "--tls-key", locked, folder=tmp_path
    )
    assert found.returncode == 1
    assert "is locked by a password" in found.stderr
