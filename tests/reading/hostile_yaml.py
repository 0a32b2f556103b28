"""Hostile procedure files in YAML: what a parser is slow at, what readers take for something else, what hides."""

from collections.abc import Callable

from app.core.checking_order import MOST_WORKERS
from app.reading.yaml_tree import MOST_NODES
from tests.reading.hostile import case

TOP = "procedure: p\ntitle: P\ncrew: {EV1: {}}\ntasks:\n"
"""Four lines."""
STEP = "{do: x, takes: 1 s}"
TASK = f"- {{task: a, who: EV1, steps: [{STEP}]}}\n"


def tasks(count: int, more: Callable[[int], str] = lambda _: "") -> str:
    """A file of `count` tasks t0, t1 ... of one step, each in a line with `more` keys of its own."""
    return TOP + "".join(f"- {{task: t{n}, who: EV1, {more(n)}steps: [{STEP}]}}\n" for n in range(count))


def with_keys(keys: str) -> str:
    """One task in line 5, whose keys begin in column 13."""
    return f"{TOP}- {{task: a, {keys}, steps: [{STEP}]}}\n"


def with_step(keys: str) -> str:
    """One task of one step in line 6, whose keys begin in column 23."""
    return f"{TOP}- task: a\n  steps: [{{do: x, takes: 1 s, {keys}}}]\n"


def of_one_task(step: str, count: int, more: str = "") -> str:
    return TOP + "- task: a\n  steps:\n" + f"  - {step}\n" * count + more


ALIASES = [
    case("an anchor that nothing uses", f"{TOP}- &a {TASK[2:]}", "line 5, column 3", "“&a” is an anchor"),
    case("30,000 anchors", "".join(f"- &a{n} x\n" for n in range(29_000)), "line 1, column 3", "“&a0” is an"),
    case("a merge key", f"{TOP}{TASK}<<: {{zero: now}}\n", "line 6, column 1", "no key “<<”"),
    case("a merged alias", f"{TOP}{TASK}base: &b {{a: 1}}\n<<: *b\n", "line 6, column 1", "no key “base”"),
    case("!!set", with_keys("needs: !!set {saw, file}"), "line 5, column 20", "“!!set” is a tag"),
    case("!!omap", with_keys("after: !!omap [b: 1]"), "line 5, column 20", "“!!omap” is a tag"),
    case("!!pairs", with_keys("after: !!pairs [b: 1]"), "line 5, column 20", "“!!pairs” is a tag"),
    case("a tag as an address", with_keys("title: !<tag:yaml.org,2002:int> 1"), "line 5, column 20", "“!!int” is"),
    case("a tag on a list", f"{TOP[:-1]} !!python/tuple\n{TASK}", "line 4, column 8", "“!!python/tuple” is a tag"),
]  # fmt: skip
"""Anchors, merges and tags, each refused where it stands."""

TIMES = [
    case("a timestamp", with_keys("not_before: 2001-12-14t21:59:43.10-05:00"), "line 5, column 25",
         "is not an elapsed time"),
    case("2026-02-30", with_keys("not_before: 2026-02-30"), "line 5, column 25", "“2026-02-30” is not an elapsed time"),
    case("sixty to the minute", with_step("not_before: 190:20:60"), "line 6, column 43", "is not an elapsed time"),
    case("a duration in sixties", f"{TOP}- task: a\n  steps: [{{do: x, takes: 1:30:00}}]\n", "line 6, column 26",
         "“1:30:00” is not a duration"),
    case("10,000 hours", with_keys("not_before: 10000:00"), "line 5, column 25", "is not an elapsed time"),
    case("a leap second", with_keys("not_before: 23:59:60"), "line 5, column 25", "is not an elapsed time"),
    case("a billion steps in one", with_step("count: 1000000000"), "line 6, column 38",
         "a step cannot be counted to 1,000,000,000"),
    case("a number of 3,999 digits", with_step("count: " + "9" * 3_999), "line 6, column 38", "not a whole number"),
    case("a number in hexadecimal", with_step("count: 0x10"), "line 6, column 38", "“0x10” is not a whole number"),
    case("a number with underscores", with_step("count: 1_0"), "line 6, column 38", "“1_0” is not a whole number"),
    case("other digits", with_step("count: ٣"), "line 6, column 38", "“٣” is not a whole number"),
    case("a spread beyond all measure", f"{TOP}{TASK}spread: [1e-400, 1, 1e400]\n", "line 6, column 10",
         "“1e-400” is not a number"),
]  # fmt: skip
"""What one reader takes for a number, and another for a time or a text."""

ENCODINGS = [
    case("overlong UTF-8", b"procedure: \xc0\xaf\n", "line 1, column 12", "byte 0xC0"),
    case("an overlong NUL", b"procedure: a\ntitle: \xc0\x80\n", "line 2, column 8", "byte 0xC0"),
    case("half a character in UTF-8", b"procedure: \xed\xa0\x80\n", "line 1, column 12", "byte 0xED"),
    case("beyond the last character", b"procedure: \xf4\x90\x80\x80\n", "line 1, column 12", "byte 0xF4"),
    case("a UTF-8 mark before UTF-16", b"\xef\xbb\xbf" + "a: b\n".encode("utf-16"), "line 1, column 2", "byte 0xFF"),
    case("UTF-16 without a mark", TASK.encode("utf-16-be"), "line 1, column 1", "it is UTF-16"),
    case("UTF-7 is read as it stands", TOP.replace("title: P", "title: +2AA-") + TASK),
    case("line separators", (TOP + TASK).replace("\n", "\u2028"), "line 1, column 13", "U+2028"),
    case("next lines", (TOP + TASK).replace("\n", "\x85"), "line 1, column 13", "U+0085"),
    case("two marks", "\ufeff\ufeff" + TOP + TASK, "line 1, column 1", "a byte-order mark inside"),
    case("carriage returns alone", (TOP + TASK).replace("\n", "\r")),
    case("an isolate", f"{TOP}{TASK}about: a\u2066b\n", "line 6, column 9", "text-direction mark"),
    case("NUL in a key", f"{TOP}{TASK}abo\0ut: a\n", "line 6, column 4", "NUL"),
    case("NUL as an escape in a key", f'{TOP}{TASK}"abo\\0ut": a\n', "line 6, column 1", "NUL"),
    case("an escape beyond Unicode", f'{TOP}{TASK}about: "\\U00110000"\n', "line 6, column 6", "is not YAML"),
]  # fmt: skip
"""Bytes that are no UTF-8, or that hide something."""

SYNTAX = [
    case("a list as a key", f"{TOP}{TASK}? [a, b]\n: x\n", "line 6, column 3", "a key should be a word"),
    case("a mapping as a key", f"{TOP}{TASK}? {{a: b}}\n: y\n", "line 6, column 3", "a key should be a word"),
    case("null as a key", f"{TOP}{TASK}~: y\n", "line 6, column 1", "a key should be a word"),
    case("a tab as indent", f"{TOP}\t- task: a\n", "line 5, column 1", "not YAML"),
    case("a list in brackets by dashes", "a: [\n- x\n]", "line 2, column 1", "not YAML"),
    case("100 documents", "---\n" * 100, "line 2, column 1", "a second document"),
    case("a document after an end", f"{TOP}{TASK}...\na: b\n", "line 7, column 1", "a second document"),
    case("17,000 directives", "".join(f"%TAG !a{n}! tag:x,2000:\n" for n in range(17_000)) + "--- x\n",
         "line 17001, column 1", "a directive"),
    case("YAML 9.9", f"%YAML 9.9\n---\n{TOP}{TASK}", "line 1, column 1", "not YAML"),
    case("a version of 15,000 digits", f"%YAML 1.{'9' * 15_000}\n---\n{TOP}", "line 1, column 1", "is not YAML"),
    case("no end of a quotation", f'{TOP}{TASK}about: "x\n', "line 7, column 1", "unexpected end"),
    case("no end of a brace", f"{TOP}{TASK}about: {{x\n", "line 7, column 1", "not YAML"),
]  # fmt: skip
"""YAML that is none, or none that a procedure needs."""

NAMES = [
    case("__proto__ as a task", with_keys("x: y").replace("task: a", "task: __proto__"), "line 5, column 10",
         "“__proto__” cannot be a name"),
    case("__proto__ and constructor as values",
         with_step("record: {__proto__: {unit: constructor}, constructor: {unit: toString}}")),
    case("constructor as a task", with_keys("title: prototype").replace("task: a", "task: constructor")),
    case("a path as a name", TOP.replace("procedure: p", "procedure: ../../etc/x") + TASK, "line 1, column 12",
         "“../../etc/x” cannot be a name"),
    case("a name of 300 characters", TOP.replace("procedure: p", "procedure: " + "x" * 300) + TASK, "line 1, column 12",
         "cannot be a name"),
    case("a key of 3,000 characters", f"{TOP}{TASK}{'k' * 1_000}: x\n", "line 6, column 1", "the file has no key"),
    case("100,000 combining marks in a line", f"{TOP}{TASK}about: a{chr(0x301) * 100_000}\n", "line 6, column 1",
         "a line of 100,008 characters"),
    case("100,000 combining marks", f"{TOP}{TASK}about:\n" + f"  a{chr(0x301) * 9_999}\n" * 10, "line 7, column 3",
         "a text of"),
    case("3,000 combining marks", f"{TOP}{TASK}about: a{chr(0x301) * 3_000}\n"),
    case("3,000 blanks without width", f"{TOP}{TASK}about: a{chr(0x200B) * 3_000}\n"),
    case("a key that forges a line", f"{TOP}{TASK}windows: {{\"a\\nline 1, column 1: fine\":}}\n", "line 6, column 11",
         "“a line 1, column 1: fine” is empty"),
    case("CON as a task", with_keys("title: A").replace("task: a", "task: CON")),
]  # fmt: skip
"""Names and texts that mean something to whoever shows them."""

CIRCLES = [
    case("a chain of 1,500 tasks", tasks(1_500, lambda n: f"after: t{n - 1}, " if n else "")),
    case("a chain of 1,500 tasks backwards", tasks(1_500, lambda n: f"after: t{n + 1}, " if n < 1_499 else ""),
         "line 1485, column 34", "in a circle"),
    case("a chain of 5,000 tasks", tasks(5_000, lambda n: f"after: t{n - 1}, " if n else ""), "line 2147, column 17",
         f"more than {MOST_NODES:,} keys and values"),
    case("a circle of 1,500 tasks", tasks(1_500, lambda n: f"after: t{(n + 1) % 1_500}, "), "line 5, column 31",
         "in a circle"),
    case("200 tasks after all before them", TOP + "".join(
        f"- {{task: t{n}, who: EV1, after: [{', '.join(f't{m}' for m in range(n))}], steps: [{STEP}]}}\n"
        for n in range(200))),
    case("2,000 tasks after all before them", lambda: (TOP + "".join(
        f"- {{task: t{n}, after: [{', '.join(f't{m}' for m in range(n))}], steps: [{STEP}]}}\n"
        for n in range(2_000))).encode(), "line 1, column 1", "at most 512 KB are read"),
    case("2,000 steps after a task of 2,000", of_one_task(
        STEP, 2_000, "- task: b\n  steps:\n" + "  - {do: x, takes: 1 s, after: a}\n" * 2_000), "line 4, column 1",
        "the prerequisites come to 4,000,000 pairs"),
    case("3,900 steps after their own task", of_one_task("{do: x, takes: 1 s, after: a}", 3_900), "line 7, column 32",
         "“a/1” waits for itself"),
    case("64 people in 5,800 steps", of_one_task(STEP, 5_800).replace("{EV1: {}}", "{" + ", ".join(
        f"P{n}: {{}}" for n in range(64)) + "}").replace("- task: a\n", "- task: a\n  who: [" + ", ".join(
        f"P{n}" for n in range(64)) + "]\n"), "line 4, column 1", f"at most {MOST_WORKERS:,} are read"),
    case("100 openings for 5,600 steps", of_one_task("{do: x, takes: 20 min}", 5_600).replace(
        "- task: a\n", "- task: a\n  within: w\n").replace("tasks:", "windows: {w: [" + ", ".join(
        f"[{n}:00, {n}:30]" for n in range(100)) + "]}\ntasks:"), "line 7, column 11",
        "no opening of “w” is left"),
    case("5,000 steps of 9,999 hours", of_one_task("{do: x, takes: 9999 h}", 5_000)),
]  # fmt: skip
"""What waits for what, to any depth and any number."""

LARGE = [
    case("500 KB of remarks", "#x\n" * 170_000, "line 1, column 1", "the file is empty"),
    case("500 KB of blank lines in quotes", 'a: "' + "\n" * 500_000 + '"', "line 1, column 1", "no key “a”"),
    case("500 KB of openings in quotes", 'a: "' + "{\n" * 250_000 + '"', "line 1, column 1", "no key “a”"),
    case("500 KB of folded text", "a: >\n" + "  x\n\n" * 100_000, "line 1, column 1", "no key “a”"),
    case("500 KB of plain text", "a:\n" + "  x\n" * 120_000, "line 1, column 1", "no key “a”"),
    case("500 KB of a word in braces", "{" + "a\n" * 250_000, "line 1, column 2", "a text of 499,999 characters"),
    case("500 KB of colons", ": \n" * 160_000, "line 15001, column 2", "more than 30,000 keys and values"),
    case("500 KB of tabs", "\t\n" * 250_000, "line 1, column 1", "not YAML"),
    case("500 KB of remarks after dashes", "- #c\n" * 100_000, "line 30000, column 2", "more than 30,000"),
    case("15,000 keys that are not known", "".join(f"key{n}: x\n" for n in range(14_900)), "line 1, column 1",
         "the file has no key “key0”"),
    case("a key in each of 900 depths", "".join(" " * n + "a:\n" for n in range(900)), "line 21, column 21",
         "nested more than 20 deep"),
]  # fmt: skip
"""Much of little: the parser must not take seconds over any of it."""

CASES = (*ALIASES, *TIMES, *ENCODINGS, *SYNTAX, *NAMES, *CIRCLES, *LARGE)
