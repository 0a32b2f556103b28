"""A rehearsal's script: what is read, and every slip told with its place and remedy."""

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.commands_rehearsal import SetInject
from app.core.procedure import Procedure
from app.core.script import Drawn, Script, first_orders
from app.core.situation import Prepared
from app.core.training import MOST_OPEN
from app.reading.procedure_reader import read_procedure
from app.reading.rehearsal_script import KINDS, TOP_KEYS, ScriptReading, read_script
from tests.core.running import Run
from tests.reading.test_readers_random import SAMPLES

FULL = """\
rehearsal: pump-changeout
seed: 7
players: [EV2, ARM]
speed: 4
injects:
  - at: 0:31:00
    delay: {step: free-old/1, by: 6 min, say: screw 3 is seized}
  - at: 0:40:00
    no_go: {person: GROUND, say: the pressure jumps, for: 4 min}
  - failed_step: {step: plug/1, say: the lock ring did not click}
  - wrong_reading: {step: shut-valves/3, value: turns, is: 13.5}
  - wrong_reading: {step: shut-valves/2, value: turns}
  - wrong_reading: {supply: battery, person: EV1, is: 41}
  - lost_tool: {tool: camera, say: it drifted off}
  - no_go: {person: EV1, step: bring-spare/2}
random: {seed: 11, count: 5}
"""


def _sample() -> Procedure:
    procedure = read_procedure(next(path for path in SAMPLES if path.stem == "pump-changeout").read_bytes()).procedure
    assert procedure is not None
    return procedure


SAMPLE = _sample()
PREPARED = Prepared(SAMPLE)


def read(text: str) -> ScriptReading:
    return read_script(text.encode(), SAMPLE)


def test_a_script_is_read_with_all_that_it_says() -> None:
    reading = read(FULL)
    assert reading.faults == ()
    assert reading.script == Script(
        procedure="pump-changeout",
        seed=7,
        players=("EV2", "ARM"),
        speed=4,
        injects=(
            SetInject("delay", 1860, "screw 3 is seized", step="free-old/1", by_s=360),
            SetInject("no-go", 2400, "the pressure jumps", person="GROUND", by_s=240),
            SetInject("failed step", None, "the lock ring did not click", step="plug/1"),
            SetInject("wrong reading", step="shut-valves/3", name="turns", value=13.5),
            SetInject("wrong reading", step="shut-valves/2", name="turns"),
            SetInject("wrong reading", person="EV1", supply="battery", value=41),
            SetInject("lost tool", None, "it drifted off", tool="camera"),
            SetInject("no-go", person="EV1", step="bring-spare/2"),
        ),
        random=Drawn(11, 5),
    )


def test_only_the_procedure_must_be_named() -> None:
    assert read("rehearsal: pump-changeout").script == Script("pump-changeout")
    assert read("rehearsal: pump-changeout\nplayers: all\nstopped: true").script == Script(
        "pump-changeout", players=None, stopped=True
    )


HEAD = "rehearsal: pump-changeout\n"
ITEM = f"{HEAD}injects:\n  - "


@pytest.mark.parametrize(
    ("text", "where", "what"),
    [
        ("", "line 1, column 1", "the file is empty; begin it with rehearsal:"),
        ("rehearsal: mast", "line 1, column 12", "the script is for “mast”, and this is pump-changeout"),
        (f"{HEAD}players: [EV1, EV9]", "line 2, column 16", "“EV9” is not one of the crew"),
        (f"{HEAD}speed: 1000", "line 2, column 8", "a speed of 1000 is out of range"),
        (f"{HEAD}speed: 2\nstopped: true", "line 2, column 8", "a clock that stands has no speed"),
        (f"{HEAD}seed: -1", "line 2, column 7", "-1 is out of range"),
        (f"{HEAD}sped: 2", "line 2, column 1", "did you mean speed?"),
        (f"{HEAD}random: {{seed: 1}}", "line 2, column 1", "random lacks the key “count”"),
        (f"{HEAD}random: {{seed: 1, count: 1000}}", "line 2, column 26", "1000 is out of range"),
        (f"{ITEM}delay: {{step: free-old/9, by: 6 min}}", "line 3, column 19", "did you mean free-old/"),
        (f"{ITEM}delay: {{step: free-old/1}}", "line 3, column 5", "a delay lacks the key “by”"),
        (f"{ITEM}delay: {{step: free-old/1, by: 0 s}}", "line 3, column 35", "that is no time, or more than a day"),
        (f"{ITEM}delay: {{step: free-old/1, by: 360}}", "line 3, column 35", "360"),
        (f"{ITEM}{{at: 0:10}}", "line 3, column 5", "here are 0"),
        (f"{ITEM}{{lost_tool: {{tool: camera}}, no_go: {{person: EV1}}}}", "line 3, column 5", "here are 2"),
        (f"{ITEM}lost_tool: {{tool: hammer}}", "line 3, column 23", "“hammer” is not a tool"),
        (f"{ITEM}wrong_reading: {{step: shut-valves/2}}", "line 3, column 5", "lacks the key value"),
        (f"{ITEM}wrong_reading: {{step: shut-valves/1, value: x}}", "line 3, column 49", "not a value of shut"),
        (f"{ITEM}wrong_reading: {{supply: battery}}", "line 3, column 5", "lacks the key is"),
        (f"{ITEM}wrong_reading: {{supply: battery, person: ARM, is: 1}}", "line 3, column 46", "“ARM” is not one of"),
        (f"{ITEM}wrong_reading: {{is: 1}}", "line 3, column 5", "of a step's value or of a supply"),
        (f"{ITEM}no_go: {{person: ARM, step: bring-spare/2}}", "line 3, column 21", "“ARM” is not asked at"),
        (f"{ITEM}no_go: {{step: bring-spare/2}}", "line 3, column 5", "a no_go lacks the key “person”"),
        (f"{ITEM}at: soon\n    failed_step: {{step: plug/1}}", "line 3, column 9", "“soon” is not an elapsed time"),
        (f"{ITEM}failed_step: {{step: plug/1, say: {'x' * 2_001}}}", "line 3, column 38", "longer than 2,000"),
        (f"{HEAD}injects: [{'{failed_step: {step: plug/1}}, ' * 101}]", "line 2, column 1", "101 troubles"),
        (f"{HEAD}injects: {{delay: 1}}", "line 2, column 1", "injects should be a list"),
        ("&a b", "line 1, column 1", "is an anchor"),
    ],
)  # fmt: skip
def test_a_slip_is_told_with_its_place_and_a_remedy(text: str, where: str, what: str) -> None:
    reading = read(text)
    assert reading.script is None
    found = [str(fault) for fault in reading.faults]
    assert any(each.startswith(where) and what in each for each in found), found


def test_several_slips_are_told_at_once() -> None:
    assert len(read(f"{HEAD}players: [EV8, EV9]\nspeed: 0\nseed: x").faults) == 4


_leaves: st.SearchStrategy[Any] = st.one_of(
    st.none(), st.booleans(), st.integers(-5, 2_000), st.text(max_size=6),
    st.sampled_from(["pump-changeout", "all", "EV1", "EV2", "ARM", "free-old/1", "bring-spare/2", "shut-valves/2",
                     "turns", "battery", "camera", "6 min", "0:31:00", "4"]),
)  # fmt: skip
_KEYS = sorted({*TOP_KEYS, *KINDS, "at", *(key for keys in KINDS.values() for key in keys), "count"})
_trees: st.SearchStrategy[Any] = st.recursive(
    _leaves,
    lambda inside: st.lists(inside, max_size=4) | st.dictionaries(st.sampled_from(_KEYS), inside, max_size=5),
    max_leaves=20,
)
_items = st.sampled_from(sorted(KINDS)).flatmap(
    lambda kind: st.fixed_dictionaries(
        {kind: st.fixed_dictionaries({}, optional=dict.fromkeys(KINDS[kind], _leaves))},
        optional={"at": st.sampled_from(["0:31:00", "0:00", "x"])},
    )
)
_scripts = st.fixed_dictionaries(
    {"rehearsal": st.just("pump-changeout") | _leaves},
    optional={
        "injects": st.lists(_items, max_size=4) | _trees,
        "players": st.just("all") | st.lists(st.sampled_from(["EV1", "EV2", "ARM"])) | _trees,
        "seed": st.integers(-1, 2**54) | _trees,
        "speed": st.floats(0, 200) | _trees,
        "stopped": st.booleans() | _trees,
        "random": st.fixed_dictionaries({"seed": st.integers(0, 9), "count": st.integers(0, MOST_OPEN)}) | _trees,
    },
)


def _holds(reading: ScriptReading) -> None:
    """What is refused is told in words; what is read can be ordered."""
    assert (reading.script is None) == any(not fault.remark for fault in reading.faults)
    for fault in reading.faults:
        assert fault.what
        assert fault.remedy
        assert str(fault).isprintable()
        assert len(str(fault)) < 2_000
    if reading.script is not None:
        run = Run(SAMPLE)
        for command in first_orders(PREPARED, reading.script, reading.script.seed or 0):
            run.order(command, 0)


@given(_trees | _scripts)
@settings(max_examples=200, deadline=None)
def test_any_tree_is_read_or_refused_in_words(tree: object) -> None:
    """JSON is YAML 1.2."""
    _holds(read_script(json.dumps(tree, ensure_ascii=False).encode("utf-8", "surrogatepass"), SAMPLE))


@given(st.binary(max_size=300), st.sampled_from([b"", b"rehearsal: pump-changeout\n", FULL.encode()]))
@settings(max_examples=200, deadline=None)
def test_any_bytes_are_read_or_refused_in_words(data: bytes, before: bytes) -> None:
    _holds(read_script(before + data, SAMPLE))


@given(st.integers(0, len(FULL)), st.integers(0, 6), st.text(max_size=4))
@settings(max_examples=150, deadline=None)
def test_a_spoilt_script_is_read_or_refused_in_words(at: int, cut: int, new: str) -> None:
    _holds(read_script((FULL[:at] + new + FULL[at + cut :]).encode("utf-8", "surrogatepass"), SAMPLE))
