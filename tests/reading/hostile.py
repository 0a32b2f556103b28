"""What a hostile file is: how it is made, and the words with which its reader must refuse it. It reads none."""

from collections.abc import Callable
from dataclasses import dataclass

File = Callable[[], bytes]


@dataclass(frozen=True, slots=True)
class Case:
    """A hostile file. `where` and `what` are the place of one of its faults and words in it; empty if it is read."""

    name: str
    make: File
    where: str = ""
    what: str = ""


def case(name: str, text: str | bytes | File, where: str = "", what: str = "") -> Case:
    """A text is encoded as UTF-8, half a character as it stands."""
    if isinstance(text, str):
        data = text.encode("utf-8", "surrogatepass")
        return Case(name, lambda: data, where, what)
    if isinstance(text, bytes):
        return Case(name, lambda: text, where, what)
    return Case(name, text, where, what)
