"""Hypothesis strategies: sound procedures that use every field, with texts that no notation may trip over."""

from dataclasses import replace

from hypothesis import strategies as st

from app.core.checking import check
from app.core.procedure import Person, Procedure, Round, Step, Supply, Takes, Task, Value
from app.reading.characters import forbidden_in
from tests.core.guesses import CREW, procedures

_SNAGS = [
    '"', '""', "'", ";", ",", "|", "[", "]", "..", "=", "+", "-", "@", "\t", "\r", "\n", "\r\n", "#", "~", "null",
    "true", "1", "0:10", "(nobody)", "_x000D_", "_x005F_", "<b>", "&amp;", "{{7*7}}", "\\", "\u00a0", "é", "漢", "🚀",
    "\nstep,a,b", "\ncrew;x;y", "＝", "#REF!", "=1+1", "'=1", "''+", "FALSE", ": ", " #", "%",
]  # fmt: skip
_any_sign = st.characters(exclude_categories=["Cs", "Cc"])


def texts(longest: int = 8) -> st.SearchStrategy[str]:
    """Texts that a reader takes: not empty, no blanks at their ends, no forbidden signs."""
    parts = st.lists(st.one_of(st.sampled_from(_SNAGS), _any_sign), min_size=1, max_size=longest)
    made = parts.map("".join).map(str.strip)
    return made.filter(lambda text: bool(text) and forbidden_in(text) is None)


_maybe = st.one_of(st.just(""), texts())
_number = st.one_of(
    st.integers(-1000, 1000).map(float),
    st.decimals(-(10**6), 10**6, places=15, allow_nan=False, allow_infinity=False).map(float),
).map(lambda number: number + 0.0)
_people = st.lists(st.sampled_from(CREW), max_size=3, unique=True).map(tuple)


@st.composite
def full_procedures(draw: st.DrawFn) -> Procedure:
    """Every optional field is used in some of them."""
    bare = draw(procedures(windows=draw(st.booleans())))
    names = draw(st.lists(texts(), min_size=8, max_size=8, unique=True))
    tools, others = tuple(names[:3]), names[3:5]
    windows = {window.name: name for window, name in zip(bare.windows, names[5:], strict=True)}
    tasks = tuple(_task(draw, task, windows, tools) for task in bare.tasks)
    made = replace(
        bare,
        title=draw(texts()),
        about=draw(_maybe),
        zero=draw(_maybe),
        crew=tuple(Person(person.designator, draw(_maybe)) for person in bare.crew),
        windows=tuple(replace(window, name=windows[window.name]) for window in bare.windows),
        supplies=tuple(Supply(name, draw(_people), draw(texts()), draw(_number)) for name in others),
        rounds=tuple(Round(name, draw(texts()), draw(_people), draw(st.integers(1, 10**6))) for name in others),
        tools=tools,
        spread=draw(st.sampled_from([(0.8, 1.0, 1.6), (0.5, 1.0, 2.25), (1e-6, 1.0, 1.000001)])),
        tasks=tasks,
    )
    assert [fault for fault in check(made) if not fault.remark] == []
    return made


def _task(draw: st.DrawFn, task: Task, windows: dict[str, str], tools: tuple[str, ...]) -> Task:
    return replace(
        task,
        title=draw(texts()),
        worth=draw(st.integers(1, 9)) if task.may_put_off else 0,
        where=draw(_maybe),
        needs=tuple(draw(st.lists(st.sampled_from(tools), max_size=2, unique=True))),
        steps=tuple(_step(draw, step, windows) for step in task.steps),
    )


def _step(draw: st.DrawFn, step: Step, windows: dict[str, str]) -> Step:
    likely = step.takes.likely_s
    three = draw(st.booleans())
    others = [person for person in CREW if step.who != (person,)]
    return replace(
        step,
        do=draw(texts()),
        takes=Takes(likely, max(0, likely - 7), likely + draw(st.integers(0, 9000))) if three else step.takes,
        within=windows[step.within] if step.within else None,
        warning=draw(_maybe),
        caution=draw(_maybe),
        note=draw(_maybe),
        record=_record(draw),
        count=draw(st.one_of(st.none(), st.integers(1, 1000))),
        confirm_by=draw(st.one_of(st.none(), st.sampled_from(others))),
    )


def _record(draw: st.DrawFn) -> tuple[Value, ...]:
    names = draw(st.lists(texts(), max_size=2, unique=True))
    return tuple(_value(draw, name) for name in names)


def _value(draw: st.DrawFn, name: str) -> Value:
    low, high = draw(st.one_of(st.none(), _number)), draw(st.one_of(st.none(), _number))
    if low is not None and high is not None and low > high:
        low, high = high, low
    return Value(name, draw(texts()), low, high)
