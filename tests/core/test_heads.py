"""The head of a log as people keep it."""

import pytest

from app.core.heads import Head, HeadFault, head_of, head_words, read_head
from tests.core.building import procedure, task
from tests.core.running import Run

NAME = "0123456789abcdef" * 4


@pytest.mark.parametrize(
    ("said", "head"),
    [
        (f"57:{NAME}", Head(57, NAME)),
        (f"  57:{NAME}\n", Head(57, NAME)),
        (NAME, Head(None, NAME)),
        (NAME.upper(), Head(None, NAME)),
        (NAME[:12], Head(None, NAME[:12])),
        (f"057:{NAME[:20]}", Head(57, NAME[:20])),
        (f"0:{NAME}", Head(0, NAME)),
    ],
)
def test_a_head_is_read_in_every_form_in_which_it_is_kept(said: str, head: Head) -> None:
    assert read_head(said) == head


@pytest.mark.parametrize(
    "said",
    ["", ":", "57", "57:", NAME[:11], f"57:{NAME[:11]}", f"{NAME}0", f":{NAME}", f"-1:{NAME}", f"5 7:{NAME}",
     f"{'9' * 16}:{NAME}", f"٥:{NAME}", NAME.replace("0", "０"), NAME.replace("a", "g"), f"57:{NAME}:", "x" * 5000],
)  # fmt: skip
def test_what_is_no_head_is_refused_with_what_one_looks_like(said: str) -> None:
    with pytest.raises(HeadFault, match="One is written SEQ:HASH") as caught:
        read_head(said)
    assert len(str(caught.value)) < 250


def test_what_is_written_is_read_again() -> None:
    assert read_head(head_words(57, NAME)) == Head(57, NAME)
    assert str(read_head(head_words(57, NAME))) == head_words(57, NAME)
    assert str(read_head(NAME[:14])) == f"{NAME[:14]}…"


def test_a_head_is_met_at_its_own_place_only() -> None:
    assert Head(57, NAME[:12]).is_at(57, NAME)
    assert Head(None, NAME[:12]).is_at(3, NAME)
    assert not Head(57, NAME).is_at(58, NAME)
    assert not Head(57, NAME).is_at(57, NAME[::-1])


def test_the_head_of_a_log_is_that_of_its_last_event_and_an_empty_log_has_none() -> None:
    run = Run(procedure(task("a")))
    assert head_of(run.log) == f"1:{run.log[-1].chain}"
    assert head_of([]) == ""
