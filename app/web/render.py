"""Templates to HTML: one environment, strict, everything escaped. It knows no run and no route."""

import hashlib
import re
from copy import copy
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from app.service.rights import allows
from app.web.help_words import help_at, slug
from app.web.visitor import VISITOR

_PLACE = "@mark@"
_CHANGING = re.compile(r'(data-fig="[^"]*"[^>]*>)[^<]*|(name="key" value=)"[^"]*"|(data-meter="[^"]*" width=)"[^"]*"')
"""What changes every second or at every rendering, and is kept fresh by other means: it makes no part "changed"."""

_KEYS = re.compile(r'()(name="key" value=)"[^"]*"()')


@dataclass(frozen=True, slots=True)
class Part:
    """A piece of a page that is swapped as a whole. `mark` changes when anything but its figures does."""

    id: str
    html: Markup
    mark: str


class Renderer:
    """The templates of one folder. `version` is put behind static addresses, so that a new release is fetched anew.

    `also_at`: the origins of other servers of the same database, for pages that lose this one.
    """

    def __init__(self, templates: Path, version: str, also_at: tuple[str, ...] = ()) -> None:
        self._changing = _CHANGING
        self._environment = Environment(
            loader=FileSystemLoader(templates),
            undefined=StrictUndefined,
            autoescape=True,
            trim_blocks=True,
            lstrip_blocks=True,
            auto_reload=False,
        )
        self._environment.globals["version"] = version
        self._environment.globals["also_at"] = " ".join(also_at)
        self._environment.globals["visitor"] = VISITOR.get
        self._environment.globals["allowed"] = _allowed
        self._environment.globals["help_at"] = help_at
        self._environment.filters["slug"] = slug

    def of_past(self) -> "Renderer":
        """The same for pages that no stream keeps fresh: there a part has changed when one of its figures has."""
        other = copy(self)
        other._changing = _KEYS
        return other

    def page(self, template: str, context: object) -> str:
        """A whole page; the fields of the frozen context are its variables."""
        return self._environment.get_template(template).render(_variables(context))

    def part(self, part_id: str, template: str, **variables: Any) -> Part:
        """One part. The template's outer element carries ``id="{{ part_id }}"`` and includes ``_mark.html``."""
        html = self._environment.get_template(template).render(part_id=part_id, part_mark=_PLACE, **variables)
        mark = hashlib.sha256(self._changing.sub(r"\1\2\3", html).encode("utf-8", "surrogatepass")).hexdigest()[:12]
        return Part(part_id, Markup(html.replace(_PLACE, mark)), mark)


def _allowed(right: str) -> bool:
    """Whether whoever looks may do what needs this right."""
    may = VISITOR.get().may
    return bool(may) and allows(may, right)


def _variables(context: object) -> dict[str, Any]:
    return {each.name: getattr(context, each.name) for each in fields(context)}  # type: ignore[arg-type] # a dataclass
