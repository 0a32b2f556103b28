"""What is shown before a step, and in which order."""

from dataclasses import replace

from app.core.fold import fold
from app.core.situation import Prepared, Situation
from app.web.views.step_words import signals
from tests.core.building import procedure, step, task
from tests.web.site import Site, words

ORDER = ["WARNING", "CAUTION", "NOTE", "HOLD"]
ALL = b"""\
procedure: tap
title: Tap
crew: {EV1: {does: Left}}
tasks:
  - task: tap
    title: Open the tap
    who: EV1
    steps:
      - {do: Turn it, takes: 5 min, hold: {go: [EV1]}, note: Left hand thread., caution: Soft seal., warning: Hot.}
"""


def test_warnings_come_before_cautions_before_notes_whatever_their_order_in_the_file() -> None:
    """MIL-STD-38784, from memory; the words as in ANSI Z535.4-2007, 4.14, which has no NOTE."""
    said = replace(step(60, go=("EV1",)), note="Left hand thread.", caution="Soft seal.", warning="Hot.")
    made = procedure(task("tap", [said], who="EV1"))
    shown = signals(Situation(Prepared(made), fold([]), 0), made.step("tap/1"), 0)
    assert [signal.word for signal in shown] == ORDER
    assert [signal.text for signal in shown[:3]] == ["Hot.", "Soft seal.", "Left hand thread."]


def test_the_desk_and_my_list_show_them_in_that_order_before_the_step_they_are_about(site: Site) -> None:
    run = site.start(ALL)
    for page in ("desk", "list/EV1"):
        text = words(site.page(f"/runs/{run}/{page}"))
        shown = text[text.index("WARNING") :]
        order = [shown.index(each) for each in ("Hot.", "CAUTION", "Soft", "NOTE", "Left hand", "HOLD", "Turn it")]
        assert order == sorted(order), page
