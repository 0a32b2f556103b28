"""A band says what stands before its step, and what of it is missing; each of its buttons is a plain form."""

import re

import pytest

from tests.browser.samples import RIG
from tests.web.site import Site, words


def rig(site: Site, at_s: float = 600) -> int:
    run = site.start(RIG.encode())
    site.clock.at_s = at_s
    return run


def band(site: Site, run: int, person: str, page: str = "desk") -> str:
    """The markup of one band."""
    found = re.search(
        rf'<section id="[^"]*" class="band[^>]*aria-label="{person}".*?</section>',
        site.page(f"/runs/{run}/{page}"),
        re.S,
    )
    assert found is not None
    return found[0]


def told(site: Site, run: int, person: str, page: str = "desk") -> str:
    return words(band(site, run, person, page))


def buttons(text: str) -> list[str]:
    """What each button of the band's own form sends, in the order in which they stand there."""
    return re.findall(r'<button name="do" value="([^"]*)"', text.split('class="after"')[0])


def main(text: str) -> list[str]:
    """What Enter presses."""
    return re.findall(r'<button[^>]*value="([^"]*)"[^>]*data-main', text)


def loud(text: str) -> list[str]:
    """The buttons that stand out."""
    return re.findall(r'<button[^>]*value="([^"]*)" class="do"', text)


def to_the_lift(site: Site) -> int:
    run = rig(site)
    site.done(run, "screws/1", "screws/2", "wire/1", "wire/2")
    for person in ("ANA", "BEN"):
        site.order(run, "go", step="watch/1", person=person)
    site.done(run, "watch/1")
    return run


def press(site: Site, run: int, do: str, step: str = "lift/1", **more: str) -> int:
    return site.order(run, do, hx=False, step=step, **more).status_code


def test_warning_caution_note_and_hold_stand_in_that_order_before_the_step(site: Site) -> None:
    text = told(site, to_the_lift(site), "ANA")
    places = [text.index(word) for word in ("WARNING", "CAUTION", "NOTE", "HOLD", "Lift the plate into the frame")]
    assert places == sorted(places)


def test_each_person_of_a_step_acknowledges_its_warning_the_band_s_own_first(
    site: Site,
) -> None:
    run = to_the_lift(site)
    assert buttons(band(site, run, "BEN"))[:2] == ["acknowledge:ANA", "acknowledge:BEN"]
    assert main(band(site, run, "BEN")) == loud(band(site, run, "BEN")) == ["acknowledge:BEN"]
    assert press(site, run, "acknowledge:BEN", heard="1") == 303
    text = band(site, run, "BEN")
    assert "BEN acknowledged 00:10:00" in words(text)
    assert main(text) == loud(text) == ["acknowledge:ANA"]
    assert press(site, run, "acknowledge:ANA", heard="1", at="-2m") == 303
    assert "ANA acknowledged 00:08:00" in told(site, run, "BEN")


def test_a_mark_waits_for_the_warning_and_does_not_stand_out_until_then(site: Site) -> None:
    run = site.start(
        RIG.replace("      - {do: Measure the pull", "      - {warning: Mind it, do: Measure the pull").encode()
    )
    site.clock.at_s = 200
    assert loud(band(site, run, "BEN")) == ["acknowledge:BEN"]
    answer = site.order(run, "mark", step="wire/1", value__pull="3")
    assert answer.status_code == 409
    assert "BEN must acknowledge the warning" in words(answer.text)
    assert press(site, run, "acknowledge:BEN", "wire/1", at="0:02:00") == 303
    assert "BEN acknowledged 00:02:00" in told(site, run, "BEN")
    assert loud(band(site, run, "BEN")) == ["mark"]


def test_on_my_list_only_ones_own_reading_and_go_can_be_pressed_and_nothing_is_heard(site: Site) -> None:
    run = to_the_lift(site)
    text = band(site, run, "BEN", "list/BEN")
    assert buttons(text)[0] == "acknowledge:BEN"
    assert "I have read the warning" in words(text)
    assert "ANA has not acknowledged yet" in words(text)
    assert not any(each.startswith("go:") for each in buttons(text))
    assert 'name="heard"' not in text
    assert 'name="heard"' in band(site, run, "BEN")
    assert "I am go" in told(site, run, "ANA", "list/ANA")


def test_a_hold_says_whom_it_needs_since_when_and_how_each_answer_came(site: Site) -> None:
    run = rig(site)
    press(site, run, "go:ANA", "watch/1", heard="1", at="-1m")
    text = told(site, run, "CHI")
    assert "Go needed from BEN. It waits since 00:00:00." in text
    assert "ANA: go 00:09:00, heard on the loop, entered by" in text
    assert "BEN: no answer yet" in text
    press(site, run, "go", "watch/1", person="BEN", page="list/BEN")
    assert "BEN: go 00:10:00, own console, signed" in told(site, run, "CHI")
    assert "All are go." in told(site, run, "CHI")
    assert loud(band(site, run, "CHI")) == ["mark"]


def test_a_no_go_shows_its_reason_and_what_lifts_it_must_be_said(site: Site) -> None:
    run = rig(site)
    press(site, run, "no-go", "watch/1", person="BEN", reason="it scrapes", heard="1")
    text = told(site, run, "CHI")
    assert "BEN: NO-GO 00:10:00: it scrapes" in text
    assert "What lifts the no-go of BEN" in text
    refused = site.order(run, "go", step="watch/1", person="BEN")
    assert refused.status_code == 422
    assert "say what lifts it" in words(refused.text)
    assert press(site, run, "go", "watch/1", person="BEN", reason="shimmed") == 303
    assert "BEN: go 00:10:00, own console" in told(site, run, "CHI")
    assert "the no-go is lifted: shimmed" in told(site, run, "CHI")


def test_the_first_standing_no_go_is_what_enter_is_about_when_all_else_is_said(site: Site) -> None:
    run = rig(site)
    press(site, run, "no-go", "watch/1", person="BEN", reason="it scrapes")
    press(site, run, "go:ANA", "watch/1")
    text = band(site, run, "CHI")
    assert main(text) == []
    assert re.search(r'class="lift".*?<button class="do" data-main>BEN is go', text, re.S)


def test_a_value_out_of_tolerance_is_told_in_words_and_stays_in_its_field(site: Site) -> None:
    run = rig(site)
    press(site, run, "mark", "wire/1", value__pull="19")
    text = told(site, run, "BEN")
    assert "pull 19 kN is OUT OF TOLERANCE (2 to 4)." in text
    assert "Called complete at 00:10:00 by" in text
    assert "Waits for the lead's acceptance. Measure again and call it again, or the lead accepts it" in text
    assert re.search(r'name="value:pull" value="19"', band(site, run, "BEN"))
    assert press(site, run, "accept", "wire/1", reason="the gauge reads high") == 303
    assert site.states(run)["wire/1"] == "done"


def test_a_value_measured_again_in_tolerance_is_the_mark(site: Site) -> None:
    run = rig(site)
    press(site, run, "mark", "wire/1", value__pull="19")
    assert press(site, run, "mark", "wire/1", value__pull="3,5") == 303
    assert site.states(run)["wire/1"] == "done"


@pytest.mark.parametrize("said", ["1e3", "twelve", "3..5"])
def test_what_is_no_number_is_refused_at_the_mark_and_no_matter_of_other_buttons(site: Site, said: str) -> None:
    run = to_the_lift(site)
    answer = site.order(run, "mark", step="lift/1", value__load=said)
    assert answer.status_code in {409, 422}
    assert f"not “{said}”" in words(answer.text)
    assert press(site, run, "acknowledge:ANA", value__load=said) == 303


def test_a_second_person_is_waited_for_in_words_and_confirms(site: Site) -> None:
    run = rig(site)
    site.done(run, "wire/1")
    assert "CHI confirms it." in told(site, run, "BEN")
    press(site, run, "mark", "wire/2")
    text = band(site, run, "BEN")
    assert "Waits until CHI confirms." in words(text)
    assert buttons(text) == main(text) == ["confirm:CHI"]
    assert buttons(band(site, run, "BEN", "list/BEN")) == [], "nobody confirms for another from their own console"
    assert press(site, run, "confirm:CHI", "wire/2", heard="1") == 303
    assert site.states(run)["wire/2"] == "done"


def test_a_count_shows_how_far_it_is_and_offers_the_next_and_all(site: Site) -> None:
    run = rig(site)
    for number in (1, 2, 3):
        assert press(site, run, f"count:{number}", "screws/1", at=f"0:0{number}:20") == 303
    text = band(site, run, "ANA")
    assert "3 of 8 done, last 00:03:20" in words(text)
    assert text.count('<li class="full">') == 3
    assert "2 at 00:02:20" in words(text)
    assert buttons(text) == ["count:4", "mark"]
    assert "4 of 8" in words(text)
    assert "All 8" in words(text)
    assert main(text) == ["count:4"]


def test_an_action_is_not_counted_twice_nor_left_out(site: Site) -> None:
    run = rig(site)
    press(site, run, "count:1", "screws/1")
    again = site.order(run, "count:1", step="screws/1")
    assert "1 of 8 was counted already, at 00:10:00" in words(again.text)
    assert "1 of 8 done" in told(site, run, "ANA")
    assert press(site, run, "count:3", "screws/1") == 409


def test_the_last_action_with_its_values_completes_the_step_and_without_them_they_are_asked(site: Site) -> None:
    run = rig(site)
    for number in range(1, 9):
        assert press(site, run, f"count:{number}", "screws/1") == 303
    text = band(site, run, "ANA")
    assert buttons(text) == ["mark"]
    assert "Done" in words(text)
    assert press(site, run, "mark", "screws/1", value__turns="15") == 303
    assert site.states(run)["screws/1"] == "done"


def test_undo_takes_back_the_last_count_and_says_so(site: Site) -> None:
    run = rig(site)
    press(site, run, "count:1", "screws/1")
    press(site, run, "count:2", "screws/1")
    assert "Undo “Drive the eight screws”, counted 2 of 8 00:10:00" in told(site, run, "ANA")
    assert press(site, run, "undo", "screws/1") == 303
    assert "1 of 8 done" in told(site, run, "ANA")


def test_the_last_mark_gets_another_time_and_other_values_with_a_reason(site: Site) -> None:
    run = rig(site)
    press(site, run, "mark", "wire/1", value__pull="3")
    text = band(site, run, "BEN")
    assert "Correct the last mark" in words(text)
    assert 'name="value:pull" value="3"' in text
    assert press(site, run, "correct", "wire/1", at="0:08:00", value__pull="3.5", reason="read again") == 303
    assert "Undo “Measure the pull”, done 00:08:00" in told(site, run, "BEN")
    assert 'name="value:pull" value="3.5"' in band(site, run, "BEN")
    assert press(site, run, "correct", "wire/1", at="0:07:00") == 422, "a correction says why"


@pytest.mark.parametrize(("said", "sentence"), [("0:59:00", "has not come yet"), ("soon", "soon")])
def test_a_time_that_cannot_be_is_refused_with_a_sentence(site: Site, said: str, sentence: str) -> None:
    run = rig(site)
    for do in ("mark", "count:1"):
        answer = site.order(run, do, step="screws/1", at=said)
        assert answer.status_code in {409, 422}
        assert sentence in words(answer.text)


def test_a_needed_tool_that_is_elsewhere_is_told_in_words(site: Site) -> None:
    run = rig(site)
    assert site.order(run, "tool", tool="torque driver", how="taken", person="BEN").status_code == 303
    assert "NOT AT HAND Needs torque driver: BEN has it; hand it over first" in told(site, run, "ANA")
    site.order(run, "tool", tool="torque driver", how="handed", person="ANA")
    assert "NOT AT HAND" not in told(site, run, "ANA")


def test_a_stale_press_on_a_step_that_moved_on_is_refused_in_words(site: Site) -> None:
    run = rig(site)
    site.done(run, "wire/1")
    answer = site.order(run, "mark", step="wire/1", value__pull="3")
    assert answer.status_code == 409
    assert "is already done, at 00:10:00" in words(answer.text)


def test_a_past_moment_shows_all_of_it_and_no_button(site: Site) -> None:
    run = rig(site)
    press(site, run, "count:1", "screws/1", at="0:02:00")
    text = band(site, run, "ANA", "desk?at=0:03:00")
    assert "1 of 8 done, last 00:02:00" in words(text)
    assert "<button" not in text
    assert "<form" not in text
