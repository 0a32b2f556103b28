"""What breaks a promise is found: each fault here is planted, and the harness must say so."""

import random
from pathlib import Path

from tests.harm import crash, traced
from tests.harm.platter import Platter
from tests.harm.power import count
from tests.harm.server import scratch
from tests.harm.table import Row, show, verdict
from tests.harm.traced import calls

EARLY = ("tests.harm.program", "early", "serve")
WORD = "word000007end"
WRITE = f'7 pwrite64(9</d/leadline.sqlite3-wal>, "{WORD}", 4096, 32) = 4096'
SYNC = "7 fdatasync(9</d/leadline.sqlite3-wal>) = 0"
ANSWER = f'8 write(12<socket:[77]>, "HTTP/1.1 200 OK\\r\\n\\r\\n{WORD}", 60) = 60'


def _unsynced(*lines: str) -> int:
    with scratch() as folder:
        trace = folder / "trace"
        trace.write_text("\n".join(lines))
        return count(calls(trace), [WORD.encode()]).unsynced


def test_a_server_that_answers_before_it_commits_loses_marks_and_is_found_out() -> None:
    rows = (crash.row(2, seed, EARLY) for seed in range(16))
    assert any(int(row.figures["lost"]) > 0 and row.kept is False for row in rows)


def test_a_sync_counts_only_between_the_write_and_the_answer() -> None:
    assert _unsynced(WRITE, SYNC, ANSWER) == 0
    assert _unsynced(SYNC, WRITE, ANSWER) == 1
    assert _unsynced(WRITE, ANSWER, SYNC) == 1
    assert _unsynced(WRITE, SYNC.replace("-wal", ""), ANSWER) == 1
    assert _unsynced(WRITE, SYNC.replace("= 0", "= -1 EIO (Input/output error)"), ANSWER) == 1


def test_a_sync_that_has_not_returned_when_the_answer_goes_out_does_not_count() -> None:
    begun, ended = "7 fdatasync(9</d/leadline.sqlite3-wal> <unfinished ...>", "7 <... fdatasync resumed>) = 0"
    assert _unsynced(WRITE, begun, ended, ANSWER) == 0
    assert _unsynced(WRITE, begun, ANSWER, ended) == 1


def test_an_answer_begins_with_its_head() -> None:
    head, body = ANSWER.replace(WORD, ""), ANSWER.replace("HTTP/1.1 200 OK\\r\\n\\r\\n", "")
    assert _unsynced(WRITE, SYNC, head, body) == 0
    assert _unsynced(WRITE, head, SYNC, body) == 1


def test_a_call_that_another_thread_interrupted_is_read_whole() -> None:
    begun = WRITE.replace(") = 4096", " <unfinished ...>")
    with scratch() as folder:
        trace = folder / "trace"
        trace.write_text("\n".join([begun, ANSWER, "7 <... pwrite64 resumed>)        = 4096"]))
        write, answer = calls(trace)
    assert (write.file, write.data, write.numbers) == ("/d/leadline.sqlite3-wal", WORD.encode(), (4096, 32))
    assert (write.began, answer.began, write.ended) == (0, 1, 2)


def test_what_was_not_synced_may_be_gone_after_a_cut_and_what_was_never_is() -> None:
    open_log = '7 openat(AT_FDCWD</>, "/d/leadline.sqlite3-wal", O_RDWR|O_CREAT, 0600) = 9</d/leadline.sqlite3-wal>'
    folder_sync = "7 fdatasync(6</d>) = 0"
    assert _left(open_log, WRITE, SYNC, folder_sync) == {True}
    assert _left(open_log, WRITE, folder_sync) == {True, False}
    assert _left(open_log, WRITE, SYNC) == {True, False}, "the folder's entry was not synced"


def _left(*lines: str) -> set[bool]:
    """Whether the word is in the log after cuts of the power right after these calls."""
    with scratch() as folder:
        (folder / "trace").write_text("\n".join(lines))
        platter = Platter(Path("/d"), folder)
        for call in calls(folder / "trace"):
            platter.take(call)
        found = set[bool]()
        for seed in range(40):
            into = folder / str(seed)
            into.mkdir()
            platter.cut(into, random.Random(seed))
            log = into / "leadline.sqlite3-wal"
            found.add(log.exists() and WORD.encode() in log.read_bytes())
    return found


def test_this_machine_can_trace_or_says_why_not() -> None:
    why = traced.cannot_trace()
    assert why == "" or "strace" in why


def test_a_row_with_anything_broken_is_not_kept_and_shows_it() -> None:
    row = Row("a promise", "as tried", {"lost": 1}, ("one is lost",))
    assert row.kept is False
    assert "NOT" in show(row)
    assert "BROKEN: one is lost" in show(row)
    assert verdict([row, Row("b"), Row("c", missing="no tool")]) == "1 promises kept, 1 broken, 1 not measured"
