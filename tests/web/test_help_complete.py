"""Every command, option, setting, field of a file, column and kind of entry is explained in the help.

The list of what there is comes from the tool itself: typer's tree of commands, the fields of Settings, the printed
schema, the table's columns, the script's keys, the classes of events.
"""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
import typer
from lxml import html  # type: ignore[import-untyped]  # it has no types

from app.cli import cli
from app.core.report import plan_report
from app.core.situation import Prepared
from app.reading.csv_file import read_csv
from app.reading.procedure_reader import read_procedure
from app.reading.rehearsal_script import read_script
from app.settings import HOME
from app.web.help_reference import FIRST, SLIPS, reference, wrong
from tests.web.help_entries import PAGES, entries, everything, misplaced, page, unexplained, wanted

KINDS = ("command", "option", "setting", "field", "column", "script", "event")


@pytest.mark.parametrize("kind", KINDS)
def test_everything_of_a_kind_is_explained_in_the_help(kind: str) -> None:
    things = wanted()[kind]
    assert len(things) > 5, f"the list of every {kind} has only {sorted(things)}"
    assert unexplained({kind: things}, everything()) == []


def test_the_help_explains_nothing_that_the_tool_does_not_have() -> None:
    there = {id_ for names in wanted().values() for id_ in names}
    assert [entry.id for entry in everything() if entry.id not in there] == []


def test_each_thing_is_explained_on_the_page_of_its_role_and_once() -> None:
    assert misplaced(everything()) == []
    ids = [entry.id for entry in everything()]
    assert [id_ for id_ in ids if ids.count(id_) > 1] == []


# Controls: what is new, or taken out of a page, is found.


@pytest.mark.parametrize("kind", KINDS)
def test_an_entry_that_is_taken_out_of_its_page_is_missed_by_its_name(kind: str) -> None:
    entry = [each for each in everything() if each.kind == kind][-1]
    text = page(entry.page)
    cut = re.sub(rf'<code id="{re.escape(entry.id)}"[^>]*>.*?</code>', "", text, count=1)
    assert cut != text
    left = tuple(each for name in PAGES for each in entries(name, cut if name == entry.page else page(name)))
    (line,) = unexplained(wanted(), left)
    assert f"the {kind} {entry.shown} is not explained" in line


def test_a_new_command_and_a_new_option_are_missed() -> None:
    planted = typer.Typer(add_completion=False)
    planted.registered_commands = list(cli.registered_commands)
    planted.registered_groups = list(cli.registered_groups)

    @planted.command()
    def shout(loud: bool = False) -> None: ...

    lines = unexplained(wanted(planted), everything())
    assert [line.split(" is not")[0] for line in lines] == [
        "the command leadline shout",
        "the option --loud",
        "the option --no-loud",
    ]


def test_an_entry_without_words_and_one_on_the_wrong_page_are_told() -> None:
    text = page("trainer")
    bare = re.sub(r"(event-|script-seed.*?<dd>).*?(</dd>)", r"\1\2", text, count=1, flags=re.S)
    assert unexplained({"script": wanted()["script"]}, entries("trainer", bare)) == [
        "the script seed has no words (script-seed on trainer)"
    ]
    assert misplaced(entries("keeper", text))[0].endswith("stands on the page keeper; it belongs on trainer")


# Examples are read by the tool's own readers.


def _examples(reads: str) -> list[str]:
    found = [each for name in PAGES for each in html.document_fromstring(page(name)).xpath("//pre[@data-reads]")]
    return [each.text_content().strip("\n") for each in found if each.get("data-reads") == reads]


def _blocks(text: str) -> dict[str, str]:
    """The top-level keys of a file, each with its text."""
    return {block.split(":")[0]: block.rstrip("\n") for block in re.split(r"(?m)^(?=\w)", text) if block.strip()}


def _indented(text: str, by: int) -> str:
    return "\n".join(" " * by + line for line in text.splitlines())


def _files() -> Iterator[str]:
    """Each example as a whole file: what it leaves out is as in the page's first file and its other examples."""
    yield from _examples("procedure")
    around = _blocks(FIRST)
    for top in _examples("top"):
        around |= _blocks(top)
        around["tasks"] = around.pop("tasks")  # What follows is put at its end.
        yield "\n".join(around.values())
    for task in _examples("task"):
        yield "\n".join([*around.values(), _indented(task, 2)])
    for steps in _examples("step"):
        made = f"- task: made\n  who: EV1\n  steps:\n{_indented(steps, 4)}"
        yield "\n".join([*around.values(), _indented(made, 2)])


def test_every_example_of_a_procedure_is_read_without_a_fault_or_remark() -> None:
    files = list(_files())
    assert len(files) >= 6
    for text in files:
        reading = read_procedure(text)
        assert [f"{fault.line}: {fault.what}" for fault in reading.faults] == [], text
        assert reading.procedure is not None


def test_the_example_table_and_the_example_script_are_read_without_a_fault() -> None:
    (table,) = _examples("csv")
    assert read_csv(table.encode()).faults == ()
    sample = read_procedure((HOME / "procedures" / "pump-changeout.yaml").read_bytes()).procedure
    assert sample is not None
    (script,) = _examples("script")
    reading = read_script(script, sample)
    assert reading.faults == ()
    assert reading.script is not None
    assert {each.what for each in reading.script.injects} >= {"delay", "failed step", "wrong reading", "no-go"}


def test_every_field_of_a_file_stands_in_an_example() -> None:
    shown = "\n".join(text for kind in ("procedure", "top", "task", "step") for text in _examples(kind))
    names = set(wanted()["field"].values())
    assert {name for name in names if not re.search(rf"(?<![\w-]){name}:", shown)} == set()


def test_the_plan_of_the_first_file_is_as_the_page_says() -> None:
    reading = read_procedure(FIRST)
    assert reading.procedure is not None
    report = plan_report(Prepared(reading.procedure))
    spare_s = {row["id"]: row["float_s"] for row in report["steps"]}
    assert (report["plan_finish_s"], spare_s["fetch/1"]) == (13 * 60, 60)
    assert "13 min for this one, with 1 min of float for EV2" in " ".join(page("planner").split())


@pytest.mark.parametrize("slip", SLIPS, ids=lambda slip: slip.title)
def test_each_slip_on_the_page_is_told_once_at_the_place_where_it_was_made(slip: object) -> None:
    told = next(each for each in reference(HOME / "static").slips if each.title == getattr(slip, "title", ""))
    assert FIRST.count(told.meant) == 1
    before = FIRST[: FIRST.index(told.meant)].count("\n")
    (line,) = told.told
    assert wrong(told) != FIRST
    assert int(line.split(":")[1]) in range(before + 1, before + 4)
    assert line in html.document_fromstring(page("planner")).text_content()


def test_the_pages_print_and_link_only_what_is_there() -> None:
    for name in PAGES:
        document = html.document_fromstring(page(name))
        ids = set(document.xpath("//@id"))
        inside = [each[1:] for each in document.xpath("//a/@href") if each.startswith("#")]
        assert [each for each in inside if each not in ids] == []
        for link in document.xpath("//a/@href"):
            if link.startswith("/help/"):
                other, _, anchor = link.removeprefix("/help/").partition("#")
                assert not anchor or anchor in set(html.document_fromstring(page(other)).xpath("//@id")), link
        for picture in document.xpath("//img/@src"):
            assert Path(HOME / picture.split("?")[0].lstrip("/")).is_file(), picture
