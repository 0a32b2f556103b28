"""A run as JSON Lines: what one Leadline writes another reads; what was changed on the way is refused with its line."""

import hashlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, get_args

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from app.core.events import KINDS, Event, body_of
from app.core.log_chain import first_chain, next_chain
from app.reading import event_values, run_lines
from app.reading.run_lines import RunFault, RunLines, read_run_lines
from app.service.run_files import run_file
from app.service.runs import Service
from tests.service.making import SetClock, store
from tests.service.recorded import recorded

Lines = list[dict[str, Any]]


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The file of a run of 13 events."""
    clock = SetClock()
    with store(tmp_path_factory.mktemp("whole")) as opened:
        service = Service(opened, clock.server())
        return run_file(service, recorded(service, clock), "jsonl").data


def parsed(data: bytes) -> Lines:
    return [json.loads(line) for line in data.splitlines()]


def written(lines: Lines, chained: bool = True) -> bytes:
    """The file again, as somebody would make it who knows how: with a chain that is whole."""
    if chained:
        lines[0]["run"]["revision"] = hashlib.sha256(lines[0]["text"].encode()).hexdigest()
        chain = first_chain(lines[0]["run"])
        for event in lines[1:]:
            chain = event["chain"] = next_chain(chain, {**event, "run": lines[0]["run"]["run"]}, event["body"])
        lines[0] |= {"events": len(lines) - 1, "head": f"{len(lines) - 1}:{chain}"}
    return "".join(json.dumps(line) + "\n" for line in lines).encode()


def refused(data: bytes) -> str:
    with pytest.raises(RunFault) as found:
        read_run_lines(data)
    return str(found.value)


def test_a_file_is_read_as_it_was_written(whole: bytes) -> None:
    found, lines = read_run_lines(whole), parsed(whole)
    assert (len(found.log), found.head, found.procedure.id) == (13, lines[0]["head"], "mast")
    assert [dict(event) for event in found.events] == lines[1:]
    assert dict(found.row) == lines[0]["run"]
    assert written(parsed(whole)) != whole, "the one that is made here says the same in other bytes"
    assert read_run_lines(written(parsed(whole))).head == found.head


def test_the_chain_can_be_worked_out_from_the_file_alone(whole: bytes) -> None:
    def canonical(value: object) -> str:
        return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False)

    header, *events = parsed(whole)
    chain = hashlib.sha256(canonical(header["run"]).encode()).hexdigest()
    for event in events:
        kept = event.pop("chain")
        chain = hashlib.sha256((chain + canonical({**event, "run": header["run"]["run"]})).encode()).hexdigest()
        assert chain == kept
    assert header["head"] == f"{len(events)}:{chain}"


def test_a_mark_of_the_order_of_bytes_and_dos_lines_are_taken(whole: bytes) -> None:
    for data in (b"\xef\xbb\xbf" + whole, whole.replace(b"\n", b"\r\n"), whole.removesuffix(b"\n")):
        assert read_run_lines(data).head == parsed(whole)[0]["head"]


@pytest.mark.parametrize("line", range(2, 15))
def test_a_value_changed_in_any_event_is_found_at_its_line(whole: bytes, line: int) -> None:
    for change in ({"by": "Nobody"}, {"logged_s": 2000}, {"station": "elsewhere"}, {"key": "k"}, {"version": 2}):
        lines = parsed(whole)
        lines[line - 1] |= change
        assert refused(written(lines, chained=False)).startswith(f"Line {line}: it was changed")


def test_an_event_taken_out_put_in_or_moved_is_found(whole: bytes) -> None:
    lines = parsed(whole)
    assert refused(written(lines[:5] + lines[6:], chained=False)).startswith("Line 6: event 5 should stand here")
    assert refused(written([*lines[:6], lines[5], *lines[6:]], chained=False)).startswith(
        "Line 7: event 6 should stand"
    )
    assert refused(written([*lines[:5], lines[6], lines[5], *lines[7:]], chained=False)).startswith("Line 6")


def test_a_cut_end_is_found_by_the_header(whole: bytes) -> None:
    assert (
        refused(written(parsed(whole)[:-1], chained=False))
        == "Line 1: it says that there are 13 events, and 12 are here."
    )
    lines = parsed(whole)[:-1]
    lines[0]["events"] = 12
    assert "is not that of the events" in refused(written(lines, chained=False))


def test_another_row_or_text_is_found(whole: bytes) -> None:
    for name, value in (("run", 7), ("kind", "rehearsal"), ("zero_utc", "2031-05-04T07:00:01.000Z")):
        lines = parsed(whole)
        lines[0]["run"][name] = value
        assert refused(written(lines, chained=False)).startswith("Line 2: it was changed")
    lines = parsed(whole)
    lines[0]["text"] = lines[0]["text"].replace("takes: 5 min", "takes: 6 min")
    assert "its hash is not the revision" in refused(written(lines, chained=False))


def event(line: int, **change: Any) -> Callable[[Lines], object]:
    return lambda lines: lines[line - 1].update(change)


def body(line: int, **change: Any) -> Callable[[Lines], object]:
    return lambda lines: lines[line - 1]["body"].update(change)


def header(**change: Any) -> Callable[[Lines], object]:
    return lambda lines: lines[0].update(change)


def row(**change: Any) -> Callable[[Lines], object]:
    return lambda lines: lines[0]["run"].update(change)


MADE_ANEW = {
    "a newer form": (header(leadline=2), "Line 1: the file is of a newer Leadline"),
    "a header with more in it": (header(more=1), "Line 1: “more” is not known here"),
    "no kind of run": (row(kind="game"), "Line 1: a run is live or a rehearsal"),
    "no time": (row(zero_utc="noon"), "Line 1: “zero_utc” is not a time as Leadline writes it"),
    "a run below one": (row(run=0), "Line 1: “run” is no number of a run"),
    "a procedure with a fault": (header(text="procedure: x\n"), "Line 1: this Leadline does not read the procedure"),
    "an event from the future": (event(4, kind="StepDreamt"), "Line 4: this Leadline does not know the event"),
    "another version": (event(4, version=9), "Line 4: this Leadline does not know the event"),
    "a field too many": (body(4, colour="red"), "Line 4: this Leadline does not know the event"),
    "a number for a text": (body(7, text=5), "Line 7: “text” of NoteAdded is not what it should be"),
    "a text for a number": (body(8, values=[["angle", "x"]]), "Line 8: “values” of StepMarked"),
    "one more in a pair": (body(8, values=[["angle", 1, 2]]), "Line 8: “values” of StepMarked"),
    "truth for a number": (body(8, values=[["angle", True]]), "Line 8: “values” of StepMarked"),
    "a step that there is not": (body(4, step="rig/9"), "does not have"),
    "a person for a step": (body(10, step="nobody"), "does not have"),
    "happening after it was told": (event(4, at_s=4000), "Line 4: its times are not between"),
    "before zero": (event(4, at_s=-1), "Line 4: its times are not between"),
    "in a thousand years": (event(14, at_s=0, logged_s=10**11), "Line 14: its times are not between"),
    "a key of an earlier command": (lambda lines: lines[9].update(key=lines[2]["key"]), "Line 10: its key is that of"),
    "no time of logging": (event(4, logged_at="2031-05-04"), "Line 4: “logged_at” is not a time"),
    "a long name": (event(4, by="x" * 201), "Line 4: “by” is longer"),
    "a list for a body": (event(4, body=[]), "Line 4: “body” is not what it should be"),
    "truth for a count": (event(4, at_s=True), "Line 4: “at_s” is not what it should be"),
    "no start": (event(2, kind="RunEnded", body={"reason": "x"}), "Line 2: the log does not begin with the start"),
    "two starts": (lambda lines: lines[5].update(kind="RunStarted", body=lines[1]["body"]), "Line 6: a run begins"),
    "two ends": (event(13, kind="RunEnded", body={"reason": "x"}), "Line 14: a run ends only once"),
    "only a header": (lambda lines: lines.__delitem__(slice(1, None)), "Line 2: the log does not begin"),
}  # fmt: skip
"""Files of somebody who makes the chain anew: what each says is wrong all the same."""


@pytest.mark.parametrize("name", MADE_ANEW)
def test_what_is_chained_anew_and_makes_no_sense_is_refused(whole: bytes, name: str) -> None:
    change, said = MADE_ANEW[name]
    lines = parsed(whole)
    change(lines)
    if name == "a procedure with a fault":
        lines[1]["body"]["revision"] = hashlib.sha256(lines[0]["text"].encode()).hexdigest()
    assert said in refused(written(lines))


@pytest.mark.parametrize(("data", "said"), [
    (b"", "The file is empty."),
    (b"\n", "Line 1: it can't be read as JSON"), (b"[1]\n", "Line 1: it is no JSON object."),
    (b"{}\n", "Line 1: this is no run from a Leadline"), (b"procedure: mast\n", "Line 1: it can't be read as JSON"),
    (b"PK\x03\x04\xff", "Line 1: it is not UTF-8 text."), (b"{" + b'"a":{' * 100_000, "Line 1: it is nested too deep."),
    (b'{"leadline":1e999}', "1e999 is too large a number"),
    (b'{"leadline":1,"leadline":1}', "a name stands twice"), (b'{"leadline":NaN}', "NaN is no JSON"),
    (b'{"leadline":1,"procedure":"\\ud800"}', "Line 1: it is not UTF-8 text."),
    (b'{"leadline":' + b"9" * 5_000 + b"}", "Line 1: it can't be read as JSON"),
    (b"x" * (run_lines.LONGEST_HEADER + 1), "more than a line may"),
    (b"x" * (run_lines.MOST_BYTES + 1), "larger than 16 MB"),
])  # fmt: skip
def test_what_is_no_run_at_all_is_refused_in_words(data: bytes, said: str) -> None:
    assert said in refused(data)


def test_a_line_that_is_too_long_is_refused_unread(whole: bytes) -> None:
    lines = whole.splitlines()
    long = b"\n".join([*lines[:3], b'{"a":"' + b"x" * run_lines.LONGEST_LINE + b'"}', *lines[4:]])
    assert refused(long).startswith("Line 4: it has 262,152 bytes")


@given(data=st.data())
@settings(max_examples=200, deadline=None)
def test_bytes_changed_anywhere_are_refused_in_words_or_say_the_same(whole: bytes, data: st.DataObject) -> None:
    at = data.draw(st.integers(0, len(whole) - 1))
    put = data.draw(
        st.one_of(st.binary(max_size=4), st.sampled_from([b"\n", b'"', b"{", b"\\u0000", b"\xff", b"1e999"]))
    )
    changed = whole[:at] + put + whole[at + data.draw(st.integers(0, 40)) :]
    found, said = tried(changed)
    if found is None:
        assert said[-1] == "."
    else:
        before = read_run_lines(whole)
        assert (found.row, found.log, found.text) == (before.row, before.log, before.text)


def tried(data: bytes) -> tuple[RunLines | None, str]:
    """What is read, or why not. Any other error is one of ours."""
    try:
        return read_run_lines(data), ""
    except RunFault as fault:
        return None, str(fault)


VALUES = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(-(10**20), 10**20),
              st.floats(allow_nan=False, allow_infinity=False),
              st.text(st.characters(exclude_categories=["Cs"]), max_size=9),
              st.sampled_from(["rig/1", "rig/2", "wire", "EV1", "paint/1", "sweep"])),
    lambda inner: st.lists(inner, max_size=3), max_leaves=6,
)  # fmt: skip


@given(data=st.data())
@settings(max_examples=100, deadline=None)
def test_events_of_any_content_are_taken_or_refused_in_words(whole: bytes, data: st.DataObject) -> None:
    """Chained anew, so that the chain lets them by."""
    kind = data.draw(st.sampled_from(sorted(KINDS)))
    fields = list(KINDS[kind].__dataclass_fields__)
    found, said = tried(planted(whole, data, kind, data.draw(st.fixed_dictionaries(dict.fromkeys(fields, VALUES)))))
    assert (found is None) == (said != "")


IDS = ("rig/1", "rig/2", "wire/2", "paint", "sweep", "EV1", "EV2", "angle", "", "delay", "taken", "wire/9")


def named(value: Any) -> Any:
    """Each text made one that may mean something in this run."""
    if isinstance(value, str):
        return IDS[len(value) % len(IDS)]
    return [named(each) for each in value] if isinstance(value, list) else value


@given(data=st.data())
@settings(max_examples=150, deadline=None)
def test_events_that_could_never_come_of_an_order_are_taken_or_refused_in_words(
    whole: bytes, data: st.DataObject
) -> None:
    """Every field has a value of its kind, and the run is worked out with it."""
    kind = data.draw(st.sampled_from(sorted(KINDS)))
    body = {name: named(value) for name, value in body_of(data.draw(st.from_type(KINDS[kind]))).items()}
    assume("Infinity" not in json.dumps(body) and "NaN" not in json.dumps(body))
    found, said = tried(planted(whole, data, kind, body))
    assert (found is None) == (said != "")


def planted(whole: bytes, data: st.DataObject, kind: str, made: dict[str, Any]) -> bytes:
    lines = parsed(whole)
    lines[data.draw(st.integers(2, 13))].update(kind=kind, body=made)
    return written(lines)


@pytest.mark.parametrize("kind", get_args(Event), ids=lambda kind: kind.__name__)
def test_the_kinds_of_every_field_of_every_event_are_known(kind: type[Event]) -> None:
    for field, wanted in event_values._kinds(kind.__name__).items():
        assert event_values._fits(object(), wanted) is False, field


def test_the_form_is_pinned(whole: bytes) -> None:
    """A file that was written once must be read for ever."""
    kept = Path(__file__).parents[1] / "data" / "released" / "run_1.jsonl"
    assert read_run_lines(kept.read_bytes()).head == "13:" + parsed(kept.read_bytes())[-1]["chain"]
    assert [list(line) for line in parsed(kept.read_bytes())] == [list(line) for line in parsed(whole)]


@pytest.mark.parametrize(("first", "last"), [(1, 10**12), (0, 1), (2, 1), (9, 9)])
def test_counted_actions_are_of_the_step_so_no_file_can_fill_the_memory(whole: bytes, first: int, last: int) -> None:
    lines = parsed(whole)
    body = {"step": "rig/1", "first": first, "last": last}
    lines[-1] |= {"kind": "ActionsDone", "version": 1, "body": body}
    assert "something that the procedure does not have" in refused(written(lines))
