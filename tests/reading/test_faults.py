"""One wrong key is one fault: a table of slips, each with the place and the words that it is met with."""

import pytest

from app.reading.procedure_reader import read_procedure
from tests.reading.small import TOP, places, with_task

TASK_KEYS = [
    ("worth: 4", 12, "“a” has a worth, but may not be put off", "may_put_off"),
    ("may_put_off: true", 18, "“a” may be put off, but its worth is not known", "worth"),
    ("may_put_off: yes", 18, "“yes” is neither true nor false", "true or false"),
    ("get_ahead: NO", 16, "“NO” is neither true nor false", "true or false"),
    ('get_ahead: "true"', 16, "“true” is neither true nor false", "quotes"),
    ("not_before: 90", 17, "“90” is not an elapsed time", "h:mm"),
    ("not_before: 1:90", 17, "“1:90” is not an elapsed time", "h:mm"),
    ("not_before:", 5, "not_before is empty", "h:mm"),
    ("not_before: ٠:١٠", 17, "“٠:١٠” is not an elapsed time", "h:mm"),
    ("within: dya", 13, "there is no window “dya”", "day"),
    ("needs: [saw, fiel]", 18, "“fiel” is not among the tools", "file"),
    ("needs: [saw, saw]", 18, "“saw” is listed twice", "take"),
    ("who: EV3", 10, "“EV3” is not in the crew", "did you mean “EV"),
    ("who: [EV1, ev2]", 16, "“ev2” is not in the crew", "EV2"),
    ("who: [EV1, EV1]", 16, "“EV1” is named twice", "take"),
    ("who: {EV1: EV2}", 10, "an item of who should be a text, not a mapping", "text"),
    ("after: c", 12, "there is no task “c”", "name a task"),
    ("after: [b, b/3]", 16, "the task “b” has no step 3", "it has 2"),
    ("after: b/0", 12, "“b/0” is not a task id or a step as task/number", "task/number"),
    ("after: [b/1/1]", 13, "“b/1/1” is not a task id or a step as task/number", "task/number"),
    ("after: [{task: b/1}]", 20, "“b/1” is not a task id", "a task id"),
    ("after: [{step: b}]", 20, "“b” is not a step as task/number", "counted from 1"),
    ("after: [{wait: 1 min}]", 13, "an item of after needs either task or step", "{task: id"),
    ("after: [{task: b, step: b/1}]", 13, "an item of after needs either task or step", "{task: id"),
    ("after: [{task: b, wait: 5}]", 29, "“5” does not say its unit", "8 min"),
    ("after: [{tsk: b}]", 14, "an item of after has no key “tsk”", "task"),
    ("after: a", 12, "“a” waits for itself", "another"),
    ("wheer: x", 5, "a task has no key “wheer”", "where"),
    ("colour: red", 5, "a task has no key “colour”", "known are task, title"),
    ("title: [x]", 5, "title should be a text, not a list", "text"),
]  # fmt: skip


@pytest.mark.parametrize(("keys", "column", "what", "remedy"), TASK_KEYS, ids=[row[0] for row in TASK_KEYS])
def test_a_wrong_key_of_a_task_is_one_fault_in_its_place(keys: str, column: int, what: str, remedy: str) -> None:
    text = with_task(keys)
    assert places(text) == [(10, column, what)]
    assert remedy in read_procedure(text).faults[0].remedy


STEPS = [
    ("{do: x}", 9, "a step lacks the key “takes”"),
    ("{takes: 1 min}", 9, "a step lacks the key “do”"),
    ("{do: x, takes: 8}", 24, "“8” does not say its unit"),
    ("{do: x, takes: 010}", 24, "“010” does not say its unit"),
    ("{do: x, takes: 1:30:00}", 24, "“1:30:00” is not a duration"),
    ("{do: x, takes: 10000 h}", 24, "“10000 h” is 10,000 hours or more"),
    ("{do: x, takes: [1 min, 2 min]}", 17, "takes is a list of 2"),
    ("{do: x, takes: []}", 17, "takes is a list of 0"),
    ("{do: x, takes: [1 min, 2, 3 min]}", 32, "“2” does not say its unit"),
    ("{do: x, takes: [3 min, 2 min, 1 min]}", 17, "3m, 2m, 1m do not rise"),
    ("{do: x, takes: [1 min, 5 min, 3 min]}", 17, "1m, 5m, 3m do not rise"),
    ("{do: x, takes: {likely: 1 min}}", 17, "takes should be a duration, not a mapping"),
    ("{do: , takes: 1 min}", 10, "do is empty"),
    ("{do: x, takes: 1 min, count: 0}", 38, "a step cannot be counted to 0"),
    ("{do: x, takes: 1 min, count: 1001}", 38, "a step cannot be counted to 1,001"),
    ("{do: x, takes: 1 min, count: 2.5}", 38, "“2.5” is not a whole number"),
    ('{do: x, takes: 1 min, count: "2"}', 38, "“2” is not a whole number"),
    ("{do: x, takes: 1 min, hold: {go: []}}", 38, "a hold names nobody"),
    ("{do: x, takes: 1 min, hold: {}}", 31, "a hold lacks the key “go”"),
    ("{do: x, takes: 1 min, hold: EV1}", 37, "hold should be a mapping, not the text “EV1”"),
    ("{do: x, takes: 1 min, hold: {go: [EV3]}}", 43, "“EV3” is not in the crew"),
    ("{do: x, takes: 1 min, confirm_by: EV3}", 43, "“EV3” is not in the crew"),
    ("{do: x, takes: 1 min, who: EV1, confirm_by: EV1}", 53, "“EV1” would confirm their own step"),
    ("{do: x, takes: 1 min, record: {p: {from: 1}}}", 40, "the value “p” lacks the key “unit”"),
    ("{do: x, takes: 1 min, record: {p: {unit: m, from: .nan}}}", 59, "“.nan” is not a number"),
    ("{do: x, takes: 1 min, record: {p: {unit: m, from: .inf}}}", 59, "“.inf” is not a number"),
    ("{do: x, takes: 1 min, record: {p: {unit: m, to: 1e999}}}", 57, "“1e999” is not a number"),
    ("{do: x, takes: 1 min, record: {p: {unit: m, to: 010}}}", 57, "“010” is not a number"),
    ("{do: x, takes: 1 min, record: {p: {unit: m, from: 3, to: 2}}}", 40, "“p” is to lie from 3 to 2"),
    ("{do: x, takes: 1 min, within: night}", 39, "there is no window “night”"),
    ("{do: x, takes: 10 h, within: day}", 24, "a/1 takes 10h 00m, longer than any opening of “day”"),
    ("x", 9, "an item of steps should be a mapping, not the text “x”"),
    ("[x]", 9, "an item of steps should be a mapping, not a list"),
    ("{do: x, takes: 1 min, wraning: x}", 31, "a step has no key “wraning”"),
]  # fmt: skip


@pytest.mark.parametrize(("step", "column", "what"), STEPS, ids=[row[0] for row in STEPS])
def test_a_wrong_step_is_one_fault_in_its_place(step: str, column: int, what: str) -> None:
    assert places(with_task("title: A", step)) == [(12, column, what)]


GAS = "{supply: g, unit: m, reserve: 1}"

TOPS = [
    ("limits: {finish: 450}", 18, "“450” is not an elapsed time"),
    ("limits: {close_out: c}", 21, "there is no task “c”"),
    ("limits: {finsh: 4:50}", 10, "limits has no key “finsh”"),
    ("limits: 4:50", 9, "limits should be a mapping, not the text “4:50”"),
    ("supplies: [{supply: gas, unit: bar, reserve: low}]", 46, "“low” is not a number"),
    ("supplies: [{supply: gas, reserve: 1}]", 12, "a supply lacks the key “unit”"),
    ("supplies: [{supply: gas, unit: bar, reserve: 1, who: EV9}]", 54, "“EV9” is not in the crew"),
    (f"supplies: [{GAS}, {GAS}]", 55, "the supply “g” is there twice"),
    ("rounds: [{round: r, asks: q, every: 0 s}]", 37, "the round “r” comes back after no time"),
    ("rounds: [{round: r, asks: q, every: 60}]", 37, "“60” does not say its unit"),
    ("rounds: [{round: r, asks: q}]", 10, "a round lacks the key “every”"),
    ("rounds: {round: r}", 1, "rounds should be a list, not a mapping"),
    ("get_ahead: {least_lead: 2}", 25, "“2” does not say its unit"),
    ("get_ahead: true", 12, "get_ahead should be a mapping, not the text “true”"),
    ("on_plan_within: 60", 17, "“60” does not say its unit"),
    ("spread: [2, 1, 1]", 1, "2, 1, 1 is not a spread"),
    ("spread: [0, 1, 1]", 1, "0, 1, 1 is not a spread"),
    ("spread: [1, 1]", 1, "spread has 2 factors"),
    ("spread: [1, x, 2]", 13, "“x” is not a number"),
    ("spread: 1.6", 9, "spread should be a list, not the text “1.6”"),
    ("zeroo: x", 1, "the file has no key “zeroo”"),
    ("title: again", 1, "“title” is given twice, first in line 2"),
    ("<<: {title: x}", 1, "the file has no key “<<”"),
]  # fmt: skip


@pytest.mark.parametrize(("line", "column", "what"), TOPS, ids=[row[0] for row in TOPS])
def test_a_wrong_key_of_the_file_is_one_fault_in_its_place(line: str, column: int, what: str) -> None:
    assert places(f"{TOP}{line}\n") == [(9, column, what)]


WINDOWS = [
    ("{day: [[0:10, 0:10]]}", 17, "an opening of “day” closes at 00:10:00, not after it opens"),
    ("{day: [[0:00, 2:00], [1:00, 3:00]]}", 31, "an opening of “day” begins at 01:00:00, before the last has ended"),
    ("{day: [0:10, 1:05]}", None, "an opening needs two elapsed times"),
    ("{day: [[0:10]]}", 17, "an opening needs two elapsed times"),
    ("{day: [[0:10, x]]}", 24, "“x” is not an elapsed time"),
    ("{day: []}", 11, "the window has no openings"),
]  # fmt: skip


@pytest.mark.parametrize(("window", "column", "what"), WINDOWS, ids=[row[0] for row in WINDOWS])
def test_a_wrong_window_is_told_in_its_place(window: str, column: int | None, what: str) -> None:
    found = places(TOP.replace("{day: [[0:00, 9:00]]}", window))
    assert {fault[2] for fault in found} == {what}
    assert column is None or [fault[:2] for fault in found] == [(4, column)]
