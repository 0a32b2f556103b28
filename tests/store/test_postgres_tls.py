"""A PostgreSQL that takes none but encrypted connections, set up by the steps that the keeper's guide gives."""

import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest

from tests import postgres
from tests.postgres import Cluster
from tests.served import called

MADE = ("req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "3650")
NAMED = ("-subj", "/CN=db", "-addext", "subjectAltName=IP:127.0.0.1")


def certificate(folder: Path, name: str) -> Path:
    """A certificate that vouches for itself, with its key beside it."""
    made = folder / f"{name}.crt"
    line = ["openssl", *MADE, *NAMED, "-keyout", str(made.with_suffix(".key")), "-out", str(made)]
    subprocess.run(line, check=True, capture_output=True)
    return made


def takes_encrypted(cluster: Cluster) -> bool:
    """Whether it has read its settings again."""
    try:
        psycopg.connect(cluster.conninfo(), sslmode="require").close()
    except psycopg.OperationalError:
        return False
    return True


@pytest.fixture
def encrypted(postgres_cluster: Cluster, tmp_path: Path) -> Iterator[tuple[str, Path]]:
    """The address of a database and the certificate of its server."""
    if shutil.which("openssl") is None:
        pytest.skip("openssl is not on this machine, and the guide's commands are its")
    assert postgres_cluster.folder.exists()
    cluster = Cluster(quick=True)
    try:
        made = certificate(tmp_path, "server")
        for name in ("server.crt", "server.key"):
            kept = Path(shutil.copy(tmp_path / name, cluster.data / name))
            shutil.chown(kept, cluster.data.stat().st_uid, cluster.data.stat().st_gid)
            kept.chmod(0o600)
        rules = cluster.data / "pg_hba.conf"
        rules.write_text(rules.read_text().replace("host  ", "hostssl"))
        with psycopg.connect(cluster.conninfo(), autocommit=True) as db:
            db.execute("ALTER SYSTEM SET ssl = on")
            db.execute("SELECT pg_reload_conf()")
        postgres.until(lambda: takes_encrypted(cluster))
        url = cluster.new_database()
        yield url, made
    finally:
        cluster.close()


def test_a_database_is_used_by_tls_with_its_server_s_certificate_checked(
    encrypted: tuple[str, Path], tmp_path: Path
) -> None:
    url, authority = encrypted
    checked = f"{url}?sslmode=verify-full&sslrootcert={authority}"
    with psycopg.connect(checked.replace("+psycopg", "")) as db:
        assert db.execute("SELECT ssl FROM pg_stat_ssl WHERE pid = pg_backend_pid()").fetchone() == (True,)
    assert called("person", "list", "--database", checked, folder=tmp_path).stdout == "Nobody has an account.\n"
    plain = called("person", "list", "--database", f"{url}?sslmode=disable", folder=tmp_path)
    assert plain.returncode == 1
    assert "pg_hba" in plain.stderr


def test_a_server_with_another_certificate_is_refused_in_words(encrypted: tuple[str, Path], tmp_path: Path) -> None:
    url, _ = encrypted
    other = certificate(tmp_path, "other")
    said = called("person", "list", "--database", f"{url}?sslmode=verify-full&sslrootcert={other}", folder=tmp_path)
    assert said.returncode == 1
    assert "certificate verify failed" in said.stderr
    assert "Traceback" not in said.stderr
