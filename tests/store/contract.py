"""What every store must do, whatever database lies under it. A test module gives the fixture `store`."""

import json
from concurrent.futures import wait
from datetime import timedelta
from functools import partial

import pytest
from sqlalchemy import Connection

from app.core.events import NoteAdded, RunStarted, StepMarked, StepReopened, TasksPutOff, WorkTaken
from app.store import journal, library
from app.store.faults import NoSuchRevision, NoSuchRun, StoreClosed
from app.store.journal import KeyUsed
from app.store.store import Store
from app.store.verifying import verify
from tests.store.making import NOON, SENT, a_run, append, entry, send


class StoreContract:
    def test_what_was_appended_is_read_back_the_same(self, store: Store) -> None:
        run = a_run(store)
        events = (
            RunStarted("ab" * 32, "live", "2031-05-04T12:00:00Z"),
            StepMarked("mast/2", (("bar", 207.5), ("count", 3)), "the lead said so"),
            NoteAdded("“quotes”, <b>, \u202e, 😀, \x00 and a\nline", None, "EV1"),
            TasksPutOff(("paint", "label"), "short of time"),
            WorkTaken("paint", (("EV1", "close-out"), ("EV2", None))),
        )
        logged = append(store, run, "k1", events)
        assert store.read(lambda conn: journal.read(conn, run)) == list(logged)
        assert [one.seq for one in logged] == [1, 2, 3, 4, 5]
        assert [one.event for one in logged] == list(events)

    def test_a_log_is_read_on_from_a_seq(self, store: Store) -> None:
        run = a_run(store)
        for key in "abc":
            append(store, run, key)
        assert [one.seq for one in store.read(lambda conn: journal.read(conn, run, after=1))] == [2, 3]
        assert store.read(lambda conn: journal.read(conn, run, after=3)) == []

    def test_each_run_counts_for_itself(self, store: Store) -> None:
        first, second = a_run(store), a_run(store)
        append(store, first, "k1")
        assert append(store, second, "k1")[0].seq == 1
        assert append(store, first, "k2")[0].seq == 2

    def test_the_head_of_a_run_moves_with_each_event(self, store: Store) -> None:
        run = a_run(store)
        seq, start = store.read(lambda conn: journal.head(conn, run))
        assert (seq, len(start)) == (0, 64)
        last = append(store, run, "k1", (StepMarked("mast/1"), StepMarked("mast/2")))[-1]
        assert store.read(lambda conn: journal.head(conn, run)) == (2, last.chain)

    def test_a_run_that_is_not_there_has_no_head_and_takes_no_event(self, store: Store) -> None:
        with pytest.raises(NoSuchRun):
            store.read(lambda conn: journal.head(conn, 99))
        with pytest.raises(NoSuchRun):
            append(store, 99, "k1")
        for number in (0, -1, 2**70):
            with pytest.raises(NoSuchRun):
                store.read(partial(library.run, number=number))

    def test_the_same_key_again_stores_nothing_and_gives_the_first_answer(self, store: Store) -> None:
        run = a_run(store)
        append(store, run, "k1", answer={"said": "stored", "seq": 1})
        with pytest.raises(KeyUsed) as caught:
            append(store, run, "k1", (StepReopened("mast/1", "slip"),), answer="another")
        assert caught.value.receipt == journal.Receipt("k1", SENT, 1, 1, {"said": "stored", "seq": 1})
        assert store.read(lambda conn: journal.receipt(conn, run, "k1")) == caught.value.receipt
        assert store.read(lambda conn: journal.head(conn, run))[0] == 1

    def test_a_command_without_an_event_leaves_a_receipt(self, store: Store) -> None:
        run = a_run(store)
        assert append(store, run, "k1", (), answer=None) == ()
        assert store.read(lambda conn: journal.receipt(conn, run, "k1")) == journal.Receipt(
            "k1", SENT, None, None, None
        )
        assert store.read(lambda conn: journal.receipt(conn, run, "k2")) is None

    def test_an_answer_that_is_not_json_stores_nothing(self, store: Store) -> None:
        run = a_run(store)
        with pytest.raises(ValueError, match="JSON"):
            append(store, run, "k1", answer=float("nan"))
        with pytest.raises(ValueError, match="JSON"):
            append(store, run, "k2", (StepMarked("mast/1", (("bar", float("inf")),)),))
        assert store.read(lambda conn: journal.head(conn, run))[0] == 0
        assert store.read(lambda conn: journal.receipt(conn, run, "k2")) is None

    def test_a_hundred_marks_at_once_get_a_hundred_places(self, store: Store) -> None:
        run = a_run(store)
        futures = [send(store, run, f"k{n}") for n in range(100)]
        wait(futures)
        assert sorted(future.result()[0].seq for future in futures) == list(range(1, 101))
        assert store.read(lambda conn: verify(conn, run)).ok

    def test_a_job_that_fails_leaves_nothing_and_hurts_no_other(self, store: Store) -> None:
        run = a_run(store)

        def half(conn: Connection) -> None:
            journal.append(conn, run, [entry()], "half", SENT, None)
            raise ZeroDivisionError("in the middle")

        before = store.write(lambda conn: journal.append(conn, run, [entry()], "k1", SENT, None))
        broken = store.write(half)
        after = store.write(lambda conn: journal.append(conn, run, [entry()], "k2", SENT, None))
        with pytest.raises(ZeroDivisionError):
            broken.result()
        assert [before.result()[0].seq, after.result()[0].seq] == [1, 2]
        assert [one.key for one in store.read(lambda conn: journal.read(conn, run))] == ["k1", "k2"]

    def test_the_same_text_twice_is_one_revision(self, store: Store) -> None:
        put = ("procedure: mast — ü", "mast", "Mast work", "mast.yaml")
        first = store.write(lambda conn: library.put(conn, *put, NOON)).result()
        again = store.write(
            lambda conn: library.put(conn, put[0], "other", "Other", "o.yaml", NOON + timedelta(1))
        ).result()
        assert (first[1], again) == (True, (first[0], False))
        (only,) = store.read(library.revisions)
        assert only == library.StoredRevision(library.hash_of(put[0]), *put[1:3], put[0], put[3], NOON)

    def test_a_revision_is_found_by_the_beginning_of_its_hash(self, store: Store) -> None:
        a_run(store, "one")
        name = library.hash_of("one")
        for said in (name, name[:4], f" {name[:12].upper()} "):
            assert store.read(partial(library.get, prefix=said)).text == "one"

    @pytest.mark.parametrize("said", ["", "abc", "%%%%", "____", "0" * 64, "\x00" * 4, "\ufffe" * 4])
    def test_what_names_no_revision_is_refused(self, store: Store, said: str) -> None:
        a_run(store, "one")
        with pytest.raises(NoSuchRevision):
            store.read(lambda conn: library.get(conn, said))

    def test_an_ambiguous_beginning_is_refused(self, store: Store) -> None:
        by_start: dict[str, int] = {}
        pair = next(
            (by_start[start], n)
            for n in range(100_000)
            if (start := library.hash_of(str(n))[:4]) in by_start or by_start.setdefault(start, n) != n
        )
        for number in pair:
            a_run(store, str(number))
        with pytest.raises(NoSuchRevision, match="more than one"):
            store.read(lambda conn: library.get(conn, library.hash_of(str(pair[0]))[:4]))

    def test_runs_are_listed_newest_first(self, store: Store) -> None:
        first, second = a_run(store), a_run(store)
        listed = store.read(library.runs)
        assert [one.run for one in listed] == [second, first]
        assert listed[1] == store.read(lambda conn: library.run(conn, first))
        assert listed[1] == library.StoredRun(first, library.hash_of("procedure: mast"), "live", NOON, NOON)

    def test_a_run_needs_a_stored_revision(self, store: Store) -> None:
        with pytest.raises(NoSuchRevision):
            store.write(lambda conn: library.create_run(conn, "0" * 64, "live", NOON, NOON)).result()

    def test_runs_are_numbered_without_a_gap_though_one_was_not_stored(self, store: Store) -> None:
        first = a_run(store)

        def half(conn: Connection) -> None:
            library.create_run(conn, library.hash_of("procedure: mast"), "live", NOON, NOON)
            raise ZeroDivisionError("in the middle")

        with pytest.raises(ZeroDivisionError):
            store.write(half).result()
        assert (first, a_run(store)) == (1, 2)

    def test_who_is_alone_has_every_turn_and_hears_nothing_of_itself(self, store: Store) -> None:
        heard: list[str] = []
        store.hear(heard.append)
        store.write(lambda conn: store.tell(conn, "run 1")).result()
        assert store.turn("players")
        assert store.turn("players")
        store.close()
        assert "run 1" not in heard

    def test_its_utc_goes_on(self, store: Store) -> None:
        before = store.utc()
        assert before.tzinfo is not None
        assert timedelta(0) <= store.utc() - before < timedelta(minutes=1)

    def test_a_read_sees_one_moment(self, store: Store) -> None:
        run = a_run(store)

        def twice(conn: Connection) -> tuple[int, int]:
            before, _ = journal.head(conn, run)
            append(store, run, "meanwhile")
            return before, journal.head(conn, run)[0]

        assert store.read(twice) == (0, 0)
        assert store.read(lambda conn: journal.head(conn, run))[0] == 1

    def test_a_closed_store_takes_and_gives_nothing(self, store: Store) -> None:
        queued = store.write(lambda conn: json.dumps(library.runs(conn)))
        store.close()
        assert queued.result() == "[]"
        with pytest.raises(StoreClosed):
            store.write(library.runs)
        with pytest.raises(StoreClosed):
            store.read(library.runs)
