"""A procedure as the YAML text of a file that reads back as the same procedure. It opens no file."""

import io
import re
from collections.abc import Iterable, Sequence
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.nodes import ScalarNode
from ruamel.yaml.representer import RoundTripRepresenter

from app.core.numbers import digits
from app.core.procedure import After, Procedure, Round, Span, Step, Supply, Takes, Task, Value

WIDTH = 110
"""Longer texts are folded at about this column. Our own choice."""
DEFAULTS = Procedure("", "", ())


_EASY = re.compile(r"[^\W_](?:[\w .;,?!()/+%=-]|:(?! |$))*")
"""Texts that need no quotes. Of itself the emitter leaves some others bare that no reader takes, ``: a`` in braces."""


class _Number(str):
    """A number that is already written as the reader wants it."""


class _Representer(RoundTripRepresenter):
    """Its own, so that what it knows of `_Number` is no other emitter's business."""


def _number(value: float) -> _Number:
    return _Number(digits(value))


def _plain(representer: _Representer, number: _Number) -> ScalarNode:
    kind = "float" if "." in number else "int"
    node: ScalarNode = representer.represent_scalar(f"tag:yaml.org,2002:{kind}", str(number))
    return node


def _text(representer: _Representer, text: str) -> ScalarNode:
    style = None if _EASY.fullmatch(text) else '"'
    node: ScalarNode = representer.represent_scalar("tag:yaml.org,2002:str", text, style=style)
    return node


_Representer.add_representer(_Number, _plain)
_Representer.add_representer(str, _text)


def yaml_text(procedure: Procedure, heading: str = "") -> str:
    """The file, UTF-8 text. `heading`: comment lines at its top.

    Of each task its steps must be numbered from 1, and carry what the task gives them (see `core.procedure.Task`).
    """
    emitter = YAML(typ="rt", pure=True)
    emitter.Representer = _Representer
    emitter.width = WIDTH
    emitter.allow_unicode = True
    emitter.indent(mapping=2, sequence=4, offset=2)
    out = io.StringIO()
    emitter.dump(_file(procedure), out)
    lines = [f"# {line}".rstrip() for line in heading.splitlines()]
    return "".join(f"{line}\n" for line in lines) + out.getvalue()


def _file(procedure: Procedure) -> CommentedMap:
    finish_s, close_out = procedure.limits.finish_s, procedure.limits.close_out
    limits = _map(finish=None if finish_s is None else clock_text(finish_s), close_out=close_out)
    least_s, within_s = procedure.least_lead_s, procedure.on_plan_within_s
    return _map(
        procedure=procedure.id,
        title=procedure.title,
        about=procedure.about,
        zero=procedure.zero,
        crew=_keyed((each.designator, _in_line(_map(does=each.does))) for each in procedure.crew),
        limits=limits,
        windows=_keyed((each.name, _spans(each.spans)) for each in procedure.windows),
        rounds=_block(_round(each) for each in procedure.rounds),
        supplies=_block(_supply(each) for each in procedure.supplies),
        tools=_names(procedure.tools, always_list=True),
        get_ahead=_in_line(_map(least_lead=duration_text(least_s))) if least_s else None,
        on_plan_within=None if within_s == DEFAULTS.on_plan_within_s else duration_text(within_s),
        spread=None if procedure.spread == DEFAULTS.spread else _row(_number(each) for each in procedure.spread),
        tasks=_block(_task(each) for each in procedure.tasks),
    )


def _round(one: Round) -> CommentedMap:
    return _map(round=one.name, asks=one.asks, who=_names(one.who), every=duration_text(one.every_s))


def _supply(one: Supply) -> CommentedMap:
    return _map(supply=one.name, who=_names(one.who), unit=one.unit, reserve=_number(one.reserve))


def _spans(spans: Iterable[Span]) -> CommentedSeq:
    return _row(_row((clock_text(span.opens_s), clock_text(span.closes_s))) for span in spans)


def _task(task: Task) -> CommentedMap:
    return _map(
        task=task.id,
        title=None if task.title == task.id else task.title,
        who=_names(task.who),
        after=_links(task.after),
        not_before=clock_text(task.not_before_s) if task.not_before_s else None,
        within=task.within,
        where=task.where,
        needs=_names(task.needs),
        get_ahead=True if task.get_ahead else None,
        may_put_off=True if task.may_put_off else None,
        worth=task.worth or None,
        steps=_block(_step(step, task) for step in task.steps),
    )


def _step(step: Step, task: Task) -> CommentedMap:
    """What the step says itself: not what it has from its task."""
    first = step.number == 1
    after = step.after[len(task.after) :] if first else step.after
    not_before_s = 0 if first and step.not_before_s == task.not_before_s else step.not_before_s
    written = _map(
        do=step.do,
        takes=_takes(step.takes),
        after=_links(after),
        not_before=clock_text(not_before_s) if not_before_s else None,
        within=None if step.within == task.within else step.within,
        warning=step.warning,
        caution=step.caution,
        note=step.note,
        hold=_in_line(_map(go=_row(step.go))) if step.go else None,
        record=_keyed((value.name, _value(value)) for value in step.record),
        count=step.count,
        confirm_by=step.confirm_by,
    )
    if step.who != task.who:
        # Nobody is written too: left out, it would mean the task's people.
        written.insert(2, "who", _names(step.who) if step.who else _row(()))
    return written


def _takes(takes: Takes) -> str | CommentedSeq:
    if takes.optimistic_s is None or takes.pessimistic_s is None:
        return duration_text(takes.likely_s)
    return _row(duration_text(each) for each in (takes.optimistic_s, takes.likely_s, takes.pessimistic_s))


def _value(value: Value) -> CommentedMap:
    low = None if value.low is None else _number(value.low)
    high = None if value.high is None else _number(value.high)
    found = CommentedMap(unit=value.unit)
    for key, bound in (("from", low), ("to", high)):
        if bound is not None:
            found[key] = bound
    return _in_line(found)


def _links(links: Sequence[After]) -> CommentedSeq | None:
    return _row(_link(each) for each in links) if links else None


def _link(link: After) -> str | CommentedMap:
    said = link.task if link.step is None else f"{link.task}/{link.step}"
    if not link.wait_s:
        return said
    key = "task" if link.step is None else "step"
    return _in_line(CommentedMap({key: said, "wait": duration_text(link.wait_s)}))


def _names(names: Sequence[str], always_list: bool = False) -> str | CommentedSeq | None:
    if not names:
        return None
    return names[0] if len(names) == 1 and not always_list else _row(names)


def _map(**fields: Any) -> CommentedMap:
    """The fields that say something, in order."""
    return CommentedMap((key, value) for key, value in fields.items() if value is not None and value != "")


def _keyed(pairs: Iterable[tuple[str, Any]]) -> CommentedMap | None:
    return CommentedMap(pairs) or None


def _block(items: Iterable[Any]) -> CommentedSeq | None:
    return CommentedSeq(items) or None


def _row(items: Iterable[Any]) -> CommentedSeq:
    """A list in brackets."""
    found = CommentedSeq(items)
    found.fa.set_flow_style()
    return found


def _in_line(found: CommentedMap) -> CommentedMap:
    """A mapping in braces."""
    found.fa.set_flow_style()
    return found


# How times and numbers are written in a file


def duration_text(seconds: int) -> str:
    """``1 h 30 min``, ``45 s``, ``0 s``."""
    hours, minutes, rest = seconds // 3600, seconds // 60 % 60, seconds % 60
    parts = [f"{count} {unit}" for count, unit in ((hours, "h"), (minutes, "min"), (rest, "s")) if count]
    return " ".join(parts) or "0 s"


def clock_text(seconds: int) -> str:
    """``1:05`` or ``1:05:30``: an elapsed time, hours without end."""
    hours, minutes, rest = seconds // 3600, seconds // 60 % 60, seconds % 60
    return f"{hours}:{minutes:02}:{rest:02}" if rest else f"{hours}:{minutes:02}"
