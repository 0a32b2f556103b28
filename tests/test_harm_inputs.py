"""The inputs that Leadline must withstand, one by one, and the tests that show that it does.

The list is that of the issue (its section on bad input), in its order. Each input names tests by file and function; in
brackets stands the case of a parametrized one. A test that is renamed or taken out is missed here.
"""

from importlib import import_module

import pytest

FILES = "reading.test_hostile_files::test_a_hostile_file_is_refused_in_its_place_or_does_no_harm"
TREE, CSV, XLSX = "reading.test_yaml_tree::", "reading.test_csv_file::", "reading.test_xlsx_file::"
REQUESTS, ORDERS, TEXT = "web.test_bad_requests::", "web.test_bad_orders::", "web.test_hostile_text::"
WHENCE = "web.test_whence::"
CONNECTIONS, BOUNDS, UPLOADS = "web.test_connections::", "web.test_bounds::", "web.test_uploads::"
SIGN_IN = "web.test_sign_in::"
RANDOM = "reading.test_readers_random::"

Rows = tuple[tuple[str, tuple[str, ...]], ...]

ALL_FILES: Rows = (
    ("files are refused with the place and the remedy", (
        FILES, f"{UPLOADS}test_a_hostile_file_is_refused_whole_by_api_and_page")),
    ("nothing is half loaded", (f"{UPLOADS}test_a_hostile_file_is_refused_whole_by_api_and_page",)),
    ("in less than 2 s and 256 MB", (
        FILES, "reading.test_hostile_files::test_all_of_them_one_after_another_take_little_memory")),
    ("read off the event loop", (f"{UPLOADS}test_while_a_file_is_read_others_are_answered",
                                 f"{UPLOADS}test_files_that_come_at_once_are_read_one_after_another_and_only_so_many_wait",
                                 f"{UPLOADS}test_who_comes_first_after_a_start_reads_the_run_beside_the_loop")),
    ("errors of the API are problem details, of pages a plain sentence", (
        f"{REQUESTS}test_a_body_that_makes_no_sense_is_refused",
        f"{ORDERS}test_a_form_of_parts_that_makes_no_sense_is_refused_in_plain_words",
        "web.test_openapi::test_every_error_is_described_as_it_is_sent")),
    ("anything at all, by every reader", (f"{RANDOM}test_any_bytes_are_refused_in_words",
                                          f"{RANDOM}test_a_spoilt_file_is_read_or_refused_in_words",
                                          f"{RANDOM}test_a_table_with_other_cells_is_read_or_refused_in_words",
                                          f"{RANDOM}test_a_workbook_with_other_parts_is_read_or_refused_in_words",
                                          f"{RANDOM}test_any_tree_is_read_or_refused_in_words")),
)  # fmt: skip

YAML: Rows = (
    ("alias bombs", (f"{TREE}test_an_alias_bomb_is_refused_without_being_unfolded",)),
    ("alias cycles", (f"{TREE}test_a_list_that_holds_itself_is_refused",)),
    ("every alias, anchor and merge", (f"{TREE}test_an_alias_and_its_anchor_are_each_refused_in_place",
                                       f"{FILES}[yaml: a merged alias]", f"{FILES}[yaml: 30,000 anchors]")),
    ("nesting of 2,000", (f"{TREE}test_nesting_of_two_thousand_is_refused_at_the_cap",
                          f"{TREE}test_nesting_up_to_the_cap_is_read")),
    ("duplicate keys", (f"{TREE}test_a_key_given_twice_is_refused_at_the_second",)),
    ("1:30:00 and 01:30:00", (
        "reading.test_hostile_times::test_a_time_with_and_without_a_nought_or_quotes_is_the_same_time",
        f"{FILES}[yaml: a duration in sixties]")),
    ("NO as false", ("reading.test_faults::test_a_wrong_key_of_a_task_is_one_fault_in_its_place[get_ahead: NO]",
                     f"{TREE}test_a_plain_scalar_stays_the_text_that_was_written[NO]")),
    ("010", ("reading.test_faults::test_a_wrong_step_is_one_fault_in_its_place[{do: x, takes: 010}]",
             f"{TREE}test_a_plain_scalar_stays_the_text_that_was_written[010]")),
    (".nan, .inf", (
        "reading.test_faults::test_a_wrong_step_is_one_fault_in_its_place"
        "[{do: x, takes: 1 min, record: {p: {unit: m, from: .nan}}}]",
        "reading.test_faults::test_a_wrong_step_is_one_fault_in_its_place"
        "[{do: x, takes: 1 min, record: {p: {unit: m, from: .inf}}}]")),
    ("!!python/...", (f"{TREE}test_every_tag_is_refused[!!python/object/apply:os.system [x]]",
                      f"{FILES}[yaml: a tag on a list]")),
    ("!!binary", (f"{TREE}test_every_tag_is_refused[!!binary aGk=]",)),
    ("a number of 5,000 digits", (f"{TREE}test_a_huge_text_and_a_number_of_five_thousand_digits_are_refused",
                                  f"{FILES}[yaml: a number of 3,999 digits]")),
    ("2026-02-30", (f"{FILES}[yaml: 2026-02-30]",
                    "reading.test_hostile_times::test_the_leap_second_of_a_day_is_the_first_of_the_next")),
    ("two documents", (f"{TREE}test_a_second_document_is_refused_where_it_begins",)),
    ("Latin-1", (f"{TREE}test_latin_1_is_refused_at_its_line_and_byte",)),
    ("UTF-16", (f"{TREE}test_wide_encodings_are_refused_by_name[utf-16]", f"{FILES}[yaml: UTF-16 without a mark]",
                f"{FILES}[yaml: a UTF-8 mark before UTF-16]")),
    ("a lone surrogate", (f"{TREE}test_a_forbidden_character_written_as_an_escape_is_refused_too[\\ud800]",
                          f"{TREE}test_a_forbidden_character_is_refused_at_its_place[\ud800]",
                          f"{FILES}[yaml: half a character in UTF-8]")),
    ("NUL inside text", (f"{TREE}test_a_forbidden_character_is_refused_at_its_place[\0]",
                         f"{TREE}test_a_forbidden_character_written_as_an_escape_is_refused_too[\\0]")),
    ("an 800 KB flat list", (f"{TREE}test_a_large_hostile_file_is_refused_at_a_cap[800 KB list]",
                             f"{TREE}test_the_size_is_refused_before_anything_is_read",
                             f"{UPLOADS}test_while_a_file_is_read_others_are_answered[YAML by the API]")),
    ("an empty file", (f"{TREE}test_an_empty_file_is_refused",)),
)  # fmt: skip

TABLES: Rows = (
    ("199 KB that unfold to 200 MB", (f"{XLSX}test_a_hostile_workbook_is_refused_in_words[200 MB of blanks]",
                                      f"{XLSX}test_a_bomb_takes_little_memory[200 MB of blanks]",
                                      f"{FILES}[xlsx: a sheet larger than it says]")),
    ("one cell at XFD1048576", (f"{XLSX}test_a_cell_far_outside_the_table_is_told_by_its_name[XFD1048576]",)),
    ("an entity bomb", (f"{XLSX}test_a_hostile_workbook_is_refused_in_words[entities in the sheet]",
                        f"{XLSX}test_openpyxl_itself_refuses_entities_where_defusedxml_is_installed",
                        f"{FILES}[xlsx: an entity from a file]")),
    ("../../x in the zip", (f"{XLSX}test_a_hostile_workbook_is_refused_in_words[a part outside]",
                            f"{FILES}[xlsx: a workbook outside]")),
    ("encrypted", (f"{XLSX}test_a_hostile_workbook_is_refused_in_words[encrypted whole]",
                   f"{XLSX}test_a_hostile_workbook_is_refused_in_words[encrypted part]")),
    ("an .xls renamed", (f"{XLSX}test_a_hostile_workbook_is_refused_in_words[an .xls]",)),
    ("a formula as step text", (f"{XLSX}test_a_wrong_cell_is_told_by_sheet_and_cell",
                                f"{CSV}test_a_wrong_file_is_refused_with_place_and_remedy[a formula]",
                                f"{FILES}[csv: a formula behind a mark]")),
    ("an unclosed quote that swallows rows", (
        f"{CSV}test_a_wrong_file_is_refused_with_place_and_remedy[one that swallows rows]",
        "reading.test_marks::test_a_quote_that_swallows_a_row_is_refused")),
    ("a 200 KB field", (f"{CSV}test_a_wrong_file_is_refused_with_place_and_remedy[200 KB in a field]",
                        f"{XLSX}test_a_hostile_workbook_is_refused_in_words[a text of 200 KB]")),
    ("a byte-order mark", (f"{CSV}test_what_spreadsheets_write_is_read[a byte-order mark]",
                           f"{TREE}test_a_utf_8_byte_order_mark_at_the_start_is_read_over",
                           f"{FILES}[csv: a byte-order mark inside]")),
    ("digits that are not ASCII", (f"{CSV}test_a_wrong_file_is_refused_with_place_and_remedy[other digits]",
                                   "reading.test_marks::test_digits_that_are_not_ascii_are_refused",
                                   f"{FILES}[yaml: other digits]")),
    ("on export, signs are made harmless", (
        "writing.test_csv_file::test_no_field_begins_with_a_sign_that_a_spreadsheet_runs",
        "writing.test_csv_file::test_what_is_made_harmless_is_restored[\tx]",
        "writing.test_xlsx_file::test_no_text_is_written_as_a_formula_or_an_error")),
    ("on export, numbers stay numbers", (
        "writing.test_csv_file::test_numbers_stay_numbers",
        "writing.test_xlsx_file::test_numbers_are_numbers_and_times_are_texts_that_stay_so")),
)  # fmt: skip

HTTP: Rows = (
    ("NaN", (f"{REQUESTS}test_a_body_that_makes_no_sense_is_refused[NaN as a time]",
             f"{REQUESTS}test_a_body_that_makes_no_sense_is_refused[NaN as a value]")),
    ("1e999", (f"{REQUESTS}test_a_body_that_makes_no_sense_is_refused[1e999]",)),
    ("duplicate keys", (f"{REQUESTS}test_a_body_that_makes_no_sense_is_refused[a key twice]",
                        f"{ORDERS}test_a_wide_body_is_refused_in_time_and_not_repeated[a key twice, and again]")),
    ("lone surrogates", (f"{REQUESTS}test_a_body_that_makes_no_sense_is_refused[a lone surrogate as a name]",
                         f"{ORDERS}test_a_form_in_another_encoding_is_refused[utf-7]")),
    ("2**63", (f"{REQUESTS}test_a_time_beyond_all_measure_is_refused",
               f"{REQUESTS}test_a_large_number_is_a_value_like_any_other")),
    ("true for a number", (f"{REQUESTS}test_a_body_that_makes_no_sense_is_refused[true for a value]",
                           f"{REQUESTS}test_a_body_that_makes_no_sense_is_refused[true for a time]")),
    ("50,000 brackets", (f"{REQUESTS}test_a_body_that_makes_no_sense_is_refused[closed brackets]",
                         f"{REQUESTS}test_a_body_that_makes_no_sense_is_refused[nested objects]")),
    ("a body over the limit or endless: 413", (f"{REQUESTS}test_a_body_over_the_limit_is_refused",
                                               f"{CONNECTIONS}test_a_body_without_end_is_answered_in_words_and_then_cut",
                                               f"{BOUNDS}test_what_has_no_end_is_ended")),
    ("half a request, and one that comes drop by drop", (f"{CONNECTIONS}test_half_requests_hold_up_nobody",
                                                         f"{BOUNDS}test_half_a_head_is_not_waited_for",
                                                         f"{BOUNDS}test_a_body_that_comes_drop_by_drop_is_not_waited_for")),
    ("wrong content type: 415", (f"{REQUESTS}test_a_wrong_content_type_is_refused",
                                 f"{ORDERS}test_a_form_in_another_encoding_is_refused")),
    ("the same key with another body: 422", (f"{ORDERS}test_the_same_key_with_another_body_is_refused",)),
    ("a mark for a closed run: 409 with the state now", (
        f"{ORDERS}test_a_mark_for_a_run_that_has_ended_is_refused_with_the_state_now",)),
    ("a stale step: 409 with the state now", (
        f"{ORDERS}test_a_mark_of_a_step_that_has_moved_on_is_refused_with_the_state_now",)),
    ("Last-Event-ID of -1, abc, 2**70 or the future", (
        "web.test_live::test_whatever_a_browser_says_it_saw_last_it_gets_the_whole_state",
        "web.test_live_merged::test_whatever_was_seen_last_it_begins_with_the_state")),
    ("foreign Host: 400", (f"{WHENCE}test_a_foreign_host_is_refused",
                           f"{CONNECTIONS}test_a_request_for_another_host_or_for_two_is_refused")),
    ("foreign or missing Origin on a POST: 403", (f"{WHENCE}test_a_post_from_a_foreign_origin_is_refused",
                                                  "web.test_tokens::test_a_foreign_or_missing_origin_is_refused")),
    ("a number written in another way", (f"{REQUESTS}test_a_run_has_one_address_and_no_other_reading_of_a_number",)),
    ("1,001 form fields", (f"{REQUESTS}test_1001_form_fields_are_refused",)),
    ("CVE-2025-62727 range headers", (f"{CONNECTIONS}test_ranges_of_a_file_cost_no_time",
                                      f"{WHENCE}test_odd_ranges_of_a_static_file_are_no_error")),
    ("any page and any form", ("web.test_pages_random::test_no_page_is_a_fault_of_ours",
                               "web.test_pages_random::test_no_form_is_a_fault_of_ours")),
    ("whatever the description of the API allows, and what it does not", (
        "web.test_schemathesis::test_what_is_described_is_what_is_answered",
        "web.test_schemathesis::test_every_operation_of_the_description_is_tried",
        "reading.test_values_random::test_any_body_is_json_or_refused")),
)  # fmt: skip

TEXTS: Rows = (
    ("markup", (f"{TEXT}test_hostile_text_is_shown_as_text_on_every_page[<script>alert(1)</script>]",
                f"{TEXT}test_every_order_that_takes_text_shows_it_as_text[<img src=x onerror=alert(1)>]",
                f"{UPLOADS}test_what_is_wrong_is_repeated_as_text",
                "browser.test_markup::test_markup_in_a_procedure_is_shown_as_text",
                "browser.test_markup::test_markup_stays_text_in_what_is_swapped_in_live")),
    ("hx- attributes", (
        f'{TEXT}test_every_order_that_takes_text_shows_it_as_text[" hx-get="/api/runs" hx-trigger="load]',)),
    ("{{7*7}}", (f"{TEXT}test_a_template_text_is_not_run",)),
    ('"><script>', (f'{TEXT}test_hostile_text_is_shown_as_text_on_every_page["><script>alert(1)</script>]',
                    f"{TEXT}test_a_hostile_address_is_shown_as_text")),
    ("a newline that forges an event", ("web.test_live::test_a_hostile_text_forges_no_event",
                                        "web.test_live_faults::test_a_hostile_text_forges_no_event_of_a_merged_stream")),
    ("right-to-left overrides", (f"{TREE}test_a_forbidden_character_is_refused_at_its_place[\u202e]",
                                 f"{FILES}[csv: a hidden direction mark]",
                                 f"{ORDERS}test_a_page_that_is_none_is_named_without_what_hides[list/\u202e\u2028]")),
    ("zero-width runs", (f"{TEXT}test_very_many_marks_are_refused_or_cut[blanks without width]",
                         f"{FILES}[yaml: 3,000 blanks without width]")),
    ("100,000 combining marks", (f"{TEXT}test_very_many_marks_are_refused_or_cut[combining marks]",
                                 f"{FILES}[yaml: 100,000 combining marks]")),
    ("CR/LF in a name that reaches a log", (f"{TEXT}test_a_name_cannot_forge_a_line_of_a_log",
                                            f"{SIGN_IN}test_a_refused_sign_in_is_one_line_of_the_servers_log",
                                            f"{FILES}[yaml: a key that forges a line]")),
)  # fmt: skip

PATHS: Rows = (
    ("%2e%2e%2f", (
        f"{CONNECTIONS}test_an_odd_address_is_not_there_and_leads_nowhere[/static/%2e%2e%2fpyproject.toml]",)),
    ("../../etc/x", (f"{CONNECTIONS}test_an_odd_address_is_not_there_and_leads_nowhere[/static/../pyproject.toml]",
                     f"{REQUESTS}test_a_hostile_file_name_is_only_a_label[../../etc/x]",
                     f"{FILES}[yaml: a path as a name]", f"{FILES}[marks: a path]")),
    ("CON", (f"{REQUESTS}test_a_hostile_file_name_is_only_a_label[CON]",
             "web.test_table_files::test_a_file_name_is_safe_everywhere[CON]")),
    ("300 characters", (f"{FILES}[yaml: a name of 300 characters]",
                        f"{ORDERS}test_a_revision_that_is_none_is_not_found")),
)  # fmt: skip

TIMES: Rows = (
    ("23:59:60Z", ("reading.test_hostile_times::test_the_leap_second_of_a_day_is_the_first_of_the_next",
                   f"{FILES}[yaml: a leap second]",
                   f"{ORDERS}test_a_mark_in_the_future_or_at_no_time_is_refused[23:59:60]")),
    ("02:30 in a DST gap or fold without an offset", (
        "reading.test_hostile_times::test_half_past_two_without_an_offset_is_utc_on_every_machine",)),
    ("a mark in the future", (f"{ORDERS}test_a_mark_in_the_future_or_at_no_time_is_refused",
                              "core.test_decide::test_a_mark_in_the_future_is_refused",
                              "service.test_pressed::test_a_press_from_the_future_is_refused_in_words")),
    ("a mark before the step could start", (f"{ORDERS}test_a_mark_before_the_step_could_start_is_refused",)),
    ("any text as a time", ("reading.test_values_random::test_any_text_is_a_time_or_a_fault_with_its_remedy",
                            "reading.test_values_random::test_any_moment_is_read_or_refused")),
)  # fmt: skip

PEOPLE: Rows = (
    ("1,000 wrong passwords", (
        "web.test_guessing::test_a_thousand_wrong_passwords_are_stopped_and_the_right_person_still_gets_in",)),
    ("a session after sign-out", (f"{SIGN_IN}test_a_session_is_dead_after_sign_out_even_for_who_kept_its_cookie",)),
    ("a disabled account", (f"{SIGN_IN}test_a_disabled_account_is_out_at_once_and_stays_out",)),
)  # fmt: skip

ROWS = {
    f"{part}: {what}": tests
    for part, rows in (
        ("files", ALL_FILES), ("YAML", YAML), ("XLSX and CSV", TABLES), ("JSON and HTTP", HTTP), ("text", TEXTS),
        ("paths and names", PATHS), ("times", TIMES), ("people", PEOPLE),
    )
    for what, tests in rows
}  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_an_input_has_its_tests(row: str) -> None:
    assert ROWS[row]
    for test in ROWS[row]:
        named, _, case = test.partition("[")
        module, _, function = named.partition("::")
        found = getattr(import_module(f"tests.{module}"), function)
        assert function.startswith("test_")
        assert not case or case.removesuffix("]") in _cases(found), test


def _cases(test: object) -> set[str]:
    """The cases of a parametrized test, by their ids or by the texts that stand for them."""
    found: set[str] = set()
    for mark in getattr(test, "pytestmark", ()):
        if mark.name == "parametrize":
            for each in (*mark.args[1], *(mark.kwargs.get("ids") or ())):
                parts = each if isinstance(each, tuple | list) else (each,)
                found |= {part for part in parts if isinstance(part, str)}
    return found


def test_a_name_that_is_none_is_missed() -> None:
    with pytest.raises(AttributeError):
        getattr(import_module("tests.reading.test_yaml_tree"), "test_that_there_is_not")  # noqa: B009 - as above
    from tests.reading.test_yaml_tree import test_every_tag_is_refused as known

    assert "!mine x" in _cases(known)
    assert "!yours x" not in _cases(known)
