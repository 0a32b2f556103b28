"""Hostile tables in CSV, of a procedure and of marks: quotation marks, formulas, signs that hide, much of little."""

from tests.reading.hostile import case

SMALL = "row,name,text,who,takes\nprocedure,p,P\ncrew,EV1,Outside\ntask,a,A,EV1\nstep,a,Do it,,8 min\n"
"""Five lines; the step's text is cell C5 in line 5, column 8."""
WIDE = "row,name,text,who,takes,after,record,needs,openings,hold,spread\nprocedure,p,P\ncrew,EV1,\ntask,a,A,EV1\n"
"""Four lines, for cells of every notation."""
C5 = "line 5, column 8, cell C5"
FAR = "x" * 5_000_000


def do(text: str) -> str:
    return SMALL.replace("Do it", text)


SIGNS = [
    case("a formula", do("=HYPERLINK(A1)"), C5, "is a formula"),
    case("a formula behind a mark", do('"=1+1"'), C5, "“=1+1” is a formula"),
    case("a formula behind an apostrophe", do("'=1+1")),
    case("a sum that is a text", do("+1 turn")),
    case("a full-width formula", do("＝1+1")),
    case("NUL", do("D\0"), "line 5, column 9", "NUL"),
    case("NUL in the header", SMALL.replace("name", "na\0me"), "line 1, column 7", "NUL"),
    case("a hidden direction mark", do("a\u202eb"), "line 5, column 9", "text-direction mark"),
    case("a byte-order mark inside", do("\ufeff"), "line 5, column 8", "a byte-order mark inside"),
    case("half a character", do("\ud800"), "line 5, column 8", "byte 0xED"),
    case("overlong UTF-8", SMALL.encode().replace(b"Do it", b"\xc0\xaf"), "line 5, column 8", "byte 0xC0"),
    case("UTF-16 with a mark", SMALL.encode("utf-16"), "line 1, column 1", "UTF-16"),
    case("a mark and UTF-16", b"\xef\xbb\xbf" + SMALL.encode("utf-16"), "line 1, column 2", "byte 0xFF"),
    case("a line separator", do("a\u2028step,a,b,,1 min"), "line 5, column 9", "U+2028"),
    case("carriage returns alone", SMALL.replace("\n", "\r")),
    case("tabs as dividers", SMALL.replace(",", "\t")),
    case("digits that are not ASCII", SMALL.replace("8 min", "８ min"), "line 5, column 15, cell E5",
         "is not a duration"),
    case("__proto__ as a task", SMALL.replace("a,A", "__proto__,A").replace("step,a", "step,__proto__"),
         "line 4, column 6, cell B4", "cannot be a name"),
    case("4,100 combining marks", do("a" + "\u0301" * 4_100), C5, "a text of 4,101 characters"),
    case("3,000 blanks without width", do("a" + "\u200b" * 3_000)),
]  # fmt: skip
"""Signs that another program runs, or nobody sees."""

QUOTES = [
    case("an open quotation mark", do('"Do it'), "line 5, column 8", "never closed"),
    case("one that swallows rows", SMALL.replace("A,EV1", '"A,EV1') + 'step,a,"y",,1 min\n', "line 4, column 8",
         "whole rows stand inside"),
    case("500 KB of quotation marks", '"' * 499_999, "line 1, column 1", "“\"” follows the closing quotation mark"),
    case("500 KB of doubled marks", do('"' + '""' * 250_000 + '"'), C5, "characters; at most 32,767"),
    case("a mark after a mark", do('"Do" "it"'), "line 5, column 8", "follows the closing quotation mark"),
    case("200 KB in a field", do("x" * 200_000), C5, "200,000 characters"),
    case("a line of 10 MB", lambda: do(FAR * 2).encode(), "line 1, column 1", "at most 512 KB are read"),
    case("a line of 500 KB", do("x" * 500_000), C5, "500,000 characters"),
    case("a mark in the header", SMALL.replace("row,name", 'row,"name'), "line 1, column 5", "never closed"),
]  # fmt: skip
"""Quotation marks in the wrong place."""

MUCH = [
    case("500 KB of commas", "," * 500_000, "line 1, column 201", "more than 200 fields"),
    case("500 KB of line ends", "\n" * 500_000, "line 10002, column 1", "more than 10,000 rows"),
    case("30,000 rows", SMALL + "step,a,x,,1 s\n" * 30_000, "line 10002, column 1", "more than 10,000 rows"),
    case("9,000 wrong rows", SMALL + "stp,a,x\n" * 9_000, "line 6, column 1, cell A6", "no kind of row “stp”"),
    case("9,000 wrong cells", SMALL + "step,a,x,EV9,8\n" * 9_000, "line 6, column 10, cell D6", "is not in the crew"),
    case("16,000 items in a cell", WIDE + 'task,b,x,,,,,"' + "x;" * 16_000 + '"\n', "line 5, column 14, cell H5",
         "an empty item"),
    case("2,901 openings in a cell", WIDE + 'step,a,x,,1 s\nwindow,w,,,,,,,"' + "0:10..0:20;" * 2_900 + '0:30..0:40"',
         "line 6, column 8, cell B6", "the window has 2901 openings"),
    case("3,001 values in a cell", WIDE + 'step,a,x,,1 s,,"' + "".join(f"v{n} [m];" for n in range(3_000)) + 'v [m]"'),
    case("brackets in a record", WIDE + 'step,a,x,,1 s,,"' + "[" * 30_000 + '"\n', "line 5, column 16, cell G5",
         "does not say what to record"),
    case("10,000 waits in a cell", WIDE + 'step,a,x,,1 s,"' + "a+1 s;" * 5_000 + 'a"\n', "line 5, column 15, cell F5",
         "waits for itself"),
    case("blanks in a record", WIDE + "step,a,x,,1 s,,a" + " " * 30_000 + "b\n", "line 5, column 16, cell G5",
         "does not say what to record"),
    case("9,900 tasks", SMALL + "".join(f"task,t{n},,EV1\n" for n in range(9_900)), "line 6, column 1, cell A6",
         "has no steps"),
    case("9,900 people", SMALL + "".join(f"crew,P{n}\n" for n in range(9_900)), "line 3, column 1, cell A3",
         "the crew has 9901 people"),
]  # fmt: skip
"""Much of little."""

CASES = (*SIGNS, *QUOTES, *MUCH)

HEAD = "step,at\n"
MARKS = (
    case("nothing", b"", "line 1, column 1", "the file has no header"),
    case("500 KB of commas", "," * 500_000, "line 1, column 21", "more than 20 fields"),
    case("500 KB of line ends", "\n" * 500_000, "line 20001, column 1", "more than 20,000 lines"),
    case("wrong rows", HEAD + "]\n" * 250_000, "line 2, column 1", "1 field where the header has 2"),
    case("rows of commas", HEAD + "\n,," * 170_000, "line 3, column 3", "3 fields where the header has 2"),
    case("rows in quotation marks", HEAD + '"\n' * 250_000, "line 2, column 1", "runs over the end of the line"),
    case("a field of 200 KB", HEAD + "a/1," + "9" * 200_000, "line 2, column 5", "200,000 characters"),
    case("NUL", HEAD + "a/1,0:\x0010\n", "line 2, column 7", "NUL"),
    case("a formula", HEAD + "=1+1,0:10\n", "line 2, column 1", "is not a step"),
    case("a path", HEAD + "../../etc/1,0:10\n", "line 2, column 1", "is not a step"),
    case("other digits", HEAD + "a/1,٠:١٠\n", "line 2, column 5", "is not an elapsed time"),
    case("a step of 150 digits", HEAD + f"a/{'9' * 150},0:10\n", "line 2, column 1", "is not a step"),
    case("a leap second", HEAD + "a/1,23:59:60\n", "line 2, column 5", "is not an elapsed time"),
    case("a negative time", HEAD + "a/1,-0:10\n", "line 2, column 5", "is not an elapsed time"),
    case("UTF-16", HEAD.encode("utf-16"), "line 1, column 1", "UTF-16"),
    case("a line separator", HEAD + "a/1,0:10\u2028b/1,0:20\n", "line 2, column 9", "U+2028"),
)
