"""The secret of a data folder, from which the tokens of forms are made. It makes no token itself."""

import secrets
from pathlib import Path

from app.store.place import FILE_MODE, replace_private

SECRET_NAME = "leadline.secret"
BYTES = 32


def secret(data_dir: Path) -> bytes:
    """The 32 bytes in the folder's secret file; made anew when there are none, or not as many.

    It outlives the server, so that a page that was open before a restart can still send what it kept.

    Raises:
        OSError: it can't be read or written.
    """
    file = data_dir / SECRET_NAME
    found = file.read_bytes() if file.exists() else b""
    if len(found) == BYTES:
        file.chmod(FILE_MODE)
        return found
    made = secrets.token_bytes(BYTES)
    replace_private(file, made)
    return made
