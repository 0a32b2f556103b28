"""Hostile and careless YAML, and the place at which it is refused."""

import tracemalloc

import pytest

from app.reading.characters import MOST_BYTES
from app.reading.yaml_tree import DEEPEST, LONGEST_TEXT, MOST_NODES, MOST_WRONG, Leaf, Mapping, place, read_tree


def refused(data: bytes | str) -> list[tuple[int, int, str]]:
    return [(fault.line, fault.column, fault.what) for fault in read_tree(data).faults]


def only(data: bytes | str) -> tuple[int, int, str]:
    (fault,) = refused(data)
    return fault


def scalar(text: str) -> Leaf:
    tree = read_tree(f"key: {text}\n")
    assert tree.faults == ()
    assert isinstance(tree.root, Mapping)
    leaf = tree.root.values["key"]
    assert isinstance(leaf, Leaf)
    return leaf


@pytest.mark.parametrize(
    "text", ["NO", "yes", "010", "0x1F", "1:30:00", "01:30:00", "1:05", ".nan", ".inf", "1e999", "2026-02-30", "0 s"]
)
def test_a_plain_scalar_stays_the_text_that_was_written(text: str) -> None:
    assert scalar(text) == Leaf(1, 6, text)


def test_quotes_are_taken_off_and_remembered() -> None:
    assert scalar('"true"') == Leaf(1, 6, "true", plain=False)
    assert not scalar('""').empty


@pytest.mark.parametrize("text", ["", "~", "null"])
def test_nothing_is_told_from_the_text_for_it(text: str) -> None:
    assert scalar(text).empty


def test_an_alias_and_its_anchor_are_each_refused_in_place() -> None:
    assert refused("a: &x 1\nb: *x\n") == [(1, 4, "“&x” is an anchor"), (2, 4, "“*x” is an alias")]


def test_an_alias_bomb_is_refused_without_being_unfolded() -> None:
    lines = ["a0: &a0 [x, x]"] + [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, 30)]
    faults = refused("\n".join(lines))
    assert len(faults) == 30 + 29 * 9
    assert faults[0] == (1, 5, "“&a0” is an anchor")


def test_a_list_that_holds_itself_is_refused() -> None:
    assert (1, 8, "“*x” is an alias") in refused("a: &x [*x]\n") or (1, 7, "“*x” is an alias") in refused(
        "a: &x [*x]\n"
    )


@pytest.mark.parametrize(
    ("tag", "shown"),
    [("!!python/object/apply:os.system [x]", "!!python/object/apply:os.system"), ("!!binary aGk=", "!!binary"),
     ("!!timestamp 2026-02-30", "!!timestamp"), ("!mine x", "!mine"), ("!!str 12", "!!str")],
)  # fmt: skip
def test_every_tag_is_refused(tag: str, shown: str) -> None:
    assert only(f"a: 1\nkey: {tag}\n") == (2, 6, f"“{shown}” is a tag")


def test_a_key_given_twice_is_refused_at_the_second() -> None:
    assert only("takes: 1 min\ndo: x\ntakes: 2 min\n") == (3, 1, "“takes” is given twice, first in line 1")


def test_all_refusals_of_one_text_come_in_one_go() -> None:
    faults = refused("a: &x 1\nb: *x\nc: !!binary aGk=\na: 2\n? [k]\n: v\n")
    assert [place_[:2] for place_ in faults] == [(1, 4), (2, 4), (3, 4), (4, 1), (5, 3)]


@pytest.mark.parametrize("opening", ["[", "{a: ", "- ", "? "])
def test_nesting_of_two_thousand_is_refused_at_the_cap(opening: str) -> None:
    line, _, what = only(opening * 2000)
    assert (line, what) == (1, f"lists and mappings are nested more than {DEEPEST} deep")


def test_nesting_up_to_the_cap_is_read() -> None:
    assert read_tree("[" * DEEPEST + "]" * DEEPEST).faults == ()


def test_a_second_document_is_refused_where_it_begins() -> None:
    assert only("--- {a: 1}\n--- {b: 2}\n") == (2, 1, "a second document begins here")


def test_a_directive_for_another_yaml_is_refused() -> None:
    assert only("%YAML 1.1\n---\na: NO\n")[2] == "a directive asks for something other than YAML 1.2"
    assert read_tree("%YAML 1.2\n---\na: NO\n").faults == ()


def test_latin_1_is_refused_at_its_line_and_byte() -> None:
    assert only("a: x\nb: café\n".encode("latin-1")) == (
        2, 7, "byte 0xE9 (byte 12 of the file) is not UTF-8; the file may be Latin-1"
    )  # fmt: skip


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "utf-32"])
def test_wide_encodings_are_refused_by_name(encoding: str) -> None:
    line, column, what = only("a: 1\n".encode(encoding))
    assert (line, column) == (1, 1)
    assert "UTF-16" in what or "UTF-32" in what


def test_a_utf_8_byte_order_mark_at_the_start_is_read_over() -> None:
    tree = read_tree(b"\xef\xbb\xbfa: 1\n")
    assert tree.faults == ()
    assert isinstance(tree.root, Mapping)
    assert tree.root.keys["a"].column == 1


@pytest.mark.parametrize("text", ["", "\n\n", "# only a comment\n", "\ufeff"])
def test_an_empty_file_is_refused(text: str) -> None:
    assert only(text) == (1, 1, "the file is empty")


@pytest.mark.parametrize(
    ("sign", "words"),
    [("\0", "NUL"), ("\x07", "U+0007"), ("\x7f", "U+007F"), ("\x85", "U+0085"), ("\u2028", "U+2028"),
     ("\u202e", "text-direction"), ("\ufeff", "byte-order"), ("\ud800", "surrogate")],
)  # fmt: skip
def test_a_forbidden_character_is_refused_at_its_place(sign: str, words: str) -> None:
    line, column, what = only(f"a: x\nb: y{sign}z\n")
    assert (line, column) == (2, 5)
    assert words in what


@pytest.mark.parametrize("escape", ["\\ud800", "\\0", "\\x07", "\\u202E", "\\ud83d\\ude00", "\\N"])
def test_a_forbidden_character_written_as_an_escape_is_refused_too(escape: str) -> None:
    line, column, what = only(f'a: x\nb: "y{escape}z"\n')
    assert (line, column) == (2, 4)
    assert "is not allowed in a text" in what


def test_an_escape_beyond_unicode_is_refused() -> None:
    assert only('a: 1\nb: "\\U00110000"\n') == (2, 2, "what follows here is not YAML")


def test_a_huge_text_and_a_number_of_five_thousand_digits_are_refused() -> None:
    for sign in "x9":
        assert only(f"a: 1\nb: {sign * 5000}\n") == (
            2,
            4,
            f"a text of 5,000 characters; at most {LONGEST_TEXT:,} are read",
        )


def test_a_text_at_the_cap_is_read() -> None:
    assert scalar("x" * LONGEST_TEXT).text == "x" * LONGEST_TEXT


def test_syntax_errors_give_their_place_and_a_remedy() -> None:
    (fault,) = read_tree("title: Say: go\n").faults
    assert (fault.line, fault.column) == (1, 11)
    assert "in quotes" in fault.remedy
    (fault,) = read_tree("a:\n\tb: 1\n").faults
    assert fault.line == 2
    assert "spaces" in fault.remedy


@pytest.mark.parametrize(
    "text",
    ["- a: b\n" * 110_000, "- b\n" * 120_000, "[" + "b, " * 150_000 + "]", "a: !" + "x" * 500_000, "!" * 500_000,
     'a: "' + "x" * 500_000 + '"', "a: |\n" + " x y\n" * 100_000, "[" * 500_000, "? " * 200_000, " \n" * 200_000,
     'a: "' + "\\x41" * 120_000 + '"'],
    ids=["800 KB list", "flat list", "flow list", "long tag", "bangs", "quoted", "literal", "brackets", "marks",
         "blanks", "escapes"],
)  # fmt: skip
def test_a_large_hostile_file_is_refused_at_a_cap(text: str) -> None:
    (fault,) = read_tree(text).faults
    assert " at most " in fault.what or " more than " in fault.what or "empty" in fault.what


@pytest.mark.parametrize("text", ["- b\n" * 120_000, "a: |\n" + " x y\n" * 90_000], ids=["list", "literal"])
def test_a_large_hostile_file_takes_little_memory(text: str) -> None:
    tracemalloc.start()
    assert read_tree(text).faults
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 256 * 1024 * 1024  # HARM's bound for any hostile file.


def test_the_size_is_refused_before_anything_is_read() -> None:
    data = b"\xff" * (MOST_BYTES + 1)
    assert only(data) == (1, 1, "the file has 513 KB, and at most 512 KB are read")


def test_the_number_of_nodes_is_capped() -> None:
    assert only("- b\n" * (MOST_NODES + 1))[2] == f"the file has more than {MOST_NODES:,} keys and values"


def test_a_file_in_which_much_is_wrong_is_read_no_further() -> None:
    faults = read_tree("- &a x\n" * (3 * MOST_WRONG)).faults
    assert len(faults) == MOST_WRONG + 2
    assert (faults[-1].line, faults[-1].what) == (
        MOST_WRONG + 1,
        f"more than {MOST_WRONG:,} faults up to here: nothing further is read",
    )
    assert len(read_tree("- &a x\n" * MOST_WRONG).faults) == MOST_WRONG


def test_a_path_leads_to_a_place_and_else_to_the_nearest_parent() -> None:
    root = read_tree("tasks:\n  - task: a\n    steps:\n      - do: x\n").root
    assert root is not None
    assert place(root, ("tasks",)) == (1, 1)
    assert place(root, ("tasks", 0)) == (2, 5)
    assert place(root, ("tasks", 0, "task")) == (2, 11)
    assert place(root, ("tasks", 0, "steps")) == (3, 5)
    assert place(root, ("tasks", 0, "steps", 0, "takes")) == (4, 9)
    assert place(root, ("tasks", 7, "steps")) == (1, 1)
    assert place(root, ("nowhere", 1)) == (1, 1)


def test_a_comma_in_braces_leaves_a_bare_key_behind() -> None:
    root = read_tree("{does: Outside, left side, empty: , ok: 1}").root
    assert isinstance(root, Mapping)
    assert root.bare == {"left side"}
