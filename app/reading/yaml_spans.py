"""Where in a YAML text each scalar stands, so that one can be replaced and all else left. It reads no value."""

from dataclasses import dataclass

from ruamel.yaml import YAML
from ruamel.yaml.events import CollectionEndEvent, CollectionStartEvent, MappingStartEvent, ScalarEvent

Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class ScalarSpan:
    """From `begin` up to and without `end`, in characters of the text, quotation marks included.

    `style`: the quotation mark, ``|`` or ``>`` of a block, empty for plain text.
    """

    begin: int
    end: int
    style: str


@dataclass(slots=True)
class _Open:
    """A list or mapping whose end has not been met; `key` is that of the value to come."""

    path: Path
    mapping: bool
    count: int = 0
    key: str | None = None

    def place(self) -> Path:
        """That of the value that comes now."""
        step: str | int = self.count if self.key is None else self.key
        self.count, self.key = self.count + 1, None
        return (*self.path, step)


def scalar_spans(text: str) -> dict[Path, ScalarSpan]:
    """Every scalar that is a value, by where it stands in the tree: ``("tasks", 0, "steps", 1, "takes")``.

    `text` has been read as a procedure before; what is no YAML raises what the parser raises.
    """
    found: dict[Path, ScalarSpan] = {}
    open_ones: list[_Open] = []
    for event in YAML(typ="safe", pure=True).parse(text):
        inside = open_ones[-1] if open_ones else None
        if isinstance(event, CollectionEndEvent):
            open_ones.pop()
        elif isinstance(event, CollectionStartEvent):
            path = () if inside is None else inside.place()
            open_ones.append(_Open(path, isinstance(event, MappingStartEvent)))
        elif isinstance(event, ScalarEvent) and inside is not None:
            if inside.mapping and inside.key is None:
                inside.key = event.value
            else:
                found[inside.place()] = ScalarSpan(event.start_mark.index, event.end_mark.index, event.style or "")
    return found
