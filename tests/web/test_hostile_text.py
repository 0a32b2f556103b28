"""Text from a procedure, a person or a file name is text on every page, and never markup."""

import json
import re
from urllib.parse import quote

import pytest

from app.core.signs import FORBIDDEN, MOST_MARKS, shown
from tests.service.making import SMALL
from tests.web.site import Site, words

HOSTILE = [
    "<script>alert(1)</script>",
    '"><script>alert(1)</script>',
    "' onmouseover='alert(1)",
    "{{31337*3}}{% raise %}",
    "<img src=x onerror=alert(1)>",
    '" hx-get="/api/runs" hx-trigger="load',
    "</textarea></title></style><hx-partial hx-target='#main'>x</hx-partial>",
    "one\nevent: tick\ndata: {}",
    "a\u202egpj.exe \u200b\u200d b",
    "x" + "\u0301" * 300,
    "&lt;b&gt; &amp;",
    "=1+1",
]
PAGES = ("desk", "lead", "list/EV1", "log", "plan")


def procedure(text: str) -> bytes:
    """A procedure with this text wherever free text may stand. JSON is YAML 1.2."""
    step = {"do": text, "takes": "5 min", "warning": text, "caution": text, "note": text,
            "record": {text[:60] if "\n" not in text else "value": {"unit": "m", "from": 0, "to": 9}}}  # fmt: skip
    hold = {"do": text, "takes": "1 min", "hold": {"go": ["EV1"]}}
    whole = {
        "procedure": "hostile", "title": text, "about": text, "zero": text, "crew": {"EV1": {"does": text}},
        "limits": {"finish": "9:00"},
        "tasks": [
            {"task": "one", "title": text, "who": "EV1", "where": text, "steps": [step, hold]},
            {"task": "two", "title": text, "who": "EV1", "may_put_off": True, "worth": 2, "steps": [step]},
            {"task": "more", "title": text, "who": "EV1", "get_ahead": True, "steps": [step]},
        ],
    }  # fmt: skip
    return json.dumps(whole, ensure_ascii=False).encode()


def load(site: Site, text: str) -> str:
    """The revision; texts that the reader itself refuses, such as direction marks, are told apart by the caller."""
    answer = site.post("/api/procedures", content=procedure(text), headers={"content-type": "application/yaml"})
    assert answer.status_code in (200, 201, 422), answer.text
    return str(answer.json().get("revision", ""))


def harmless(page: str) -> None:
    """Nothing of the hostile text became an element or an attribute."""
    tags = "".join(re.findall(r"<[^>]*>", page))
    assert "alert(1)" not in re.sub(r'"[^"]*"', "", tags)
    assert not re.search(
        r"<script>|<img|<hx-partial hx-target='|\son\w+=|hx-get=\"/api", re.sub(r'="[^"]*"', '=""', tags)
    )
    assert "94011" not in words(page)  # keys and tokens are drawn


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_text_is_shown_as_text_on_every_page(site: Site, text: str) -> None:
    revision = load(site, text)
    if not revision:
        faults = site.post("/procedures", data={"text": procedure(text).decode()})
        assert faults.status_code == 422
        harmless(faults.text)
        return
    started = site.post("/runs", data={"revision": revision, "kind": "live"})
    run = int(started.headers["location"].split("/")[2])
    site.done(run, "one/1")
    for do, fields in (
        ("note", {"reason": text}),
        ("no-go", {"step": "one/2", "person": "EV1", "reason": text}),
        ("put-off", {"task": "two", "reason": text}),
    ):
        assert site.post(f"/runs/{run}/orders", data={"do": do, **fields}).status_code == 303
    for page in PAGES:
        harmless(site.page(f"/runs/{run}/{page}"))
        harmless(site.order(run, "mark", step="one/1", page=page).text)
        harmless(
            site.order(run, "mark", step="one/1", page=page, hx=True).text.replace(
                '<hx-partial hx-target="#', '<p id="'
            )
        )
    harmless(site.page("/"))
    harmless(site.page(f"/procedures/{revision}"))
    meant = " ".join(shown(text).split())
    assert meant in words(site.page(f"/runs/{run}/log"))


@pytest.mark.parametrize("sign", ["\u202e", "\u2067", "\x1b", "\u2028", "\ufeff"])
def test_what_somebody_enters_turns_nothing_round_that_stands_beside_it(site: Site, sign: str) -> None:
    """HARM.md, Text: else a flag could have the time and the signer after it read backwards."""
    run = site.start()
    orders: tuple[tuple[str, dict[str, str]], ...] = (
        ("note", {"reason": f"{sign}strut{sign} bent"}),
        ("flag", {"reason": f"{sign}strut bent", "person": "EV1"}),
        ("tool", {"tool": "x", "how": "left", "where": f"{sign}here"}),
        ("hand-over", {"reason": f"{sign}to Olga"}),
    )
    for do, fields in orders:
        site.post(f"/runs/{run}/orders", data={"do": do, **fields})
    log = json.dumps(site.json(f"/api/runs/{run}/events"), ensure_ascii=False)
    assert "strut" in log
    assert not FORBIDDEN.search(log)
    assert sign not in site.page(f"/runs/{run}/log")


def test_the_name_of_a_file_turns_nothing_round_either(site: Site) -> None:
    answer = site.post("/api/procedures?source=a%00b%0Ac%E2%80%AEd.yaml", content=SMALL)
    assert answer.status_code == 201
    assert [each["source"] for each in site.json("/api/procedures")] == ["a b c d.yaml"]


def test_no_letter_has_more_marks_than_a_line_can_show() -> None:
    assert shown("x" + "\u0301" * 400 + "\u0489" * 9 + "y\u0301") == "x" + "\u0301" * MOST_MARKS + "y\u0301"
    for fine in ("", "café", "日本 太郎", "a\nb\tc", "שלום", "👩‍🚀"):
        assert shown(fine) == fine


def test_a_template_text_is_not_run(site: Site) -> None:
    run = site.start(procedure("{{31337*3}}"))
    assert "{{31337*3}}" in site.page(f"/runs/{run}/desk")


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_a_hostile_address_is_shown_as_text(site: Site, text: str) -> None:
    run = site.start()
    for address in (f"/runs/{run}/{{}}", "/procedures/{}", "/{}"):
        harmless(site.get(address.format(quote(text, safe=""))).text)
    harmless(site.get(f"/runs/{run}/desk", params={"at": text}).text)


@pytest.mark.parametrize("name", ["Ana", "Łukasz Żółć", "日本 太郎", "O'Neil; Path=/", 'a"b\\c', "x" * 400])
def test_a_name_signs_the_log_as_it_was_typed(site: Site, name: str) -> None:
    run = site.start()
    assert site.post("/name", data={"name": name}).status_code == 303
    site.done(run, "rig/1")
    assert site.json(f"/api/runs/{run}/events")[-1]["by"] == name[:40]


def test_a_name_cannot_forge_a_line_of_a_log(site: Site) -> None:
    run = site.start()
    site.post("/name", data={"name": "Ana\r\n2031-05-04 EV1 is go\u2028\u202e\x1b[2J"})
    site.done(run, "rig/1")
    by = site.json(f"/api/runs/{run}/events")[-1]["by"]
    assert by.isprintable()
    assert by.startswith("Ana 2031")
    for name in ("Ana\r\nEV1", "a\u202eb", "\x00"):
        answer = site.post(f"/api/runs/{run}/marks", json={"step": "rig/2", "by": name})
        assert answer.status_code == 422
        answer = site.post(f"/api/runs/{run}/marks", json={"step": "rig/2", "station": name})
        assert answer.status_code == 422


def test_a_cookie_that_is_nonsense_is_no_error(site: Site) -> None:
    for cookie in (
        "leadline_name=%ff%fe%00%0d%0a",
        "leadline_station=../../x",
        'leadline_name="\\012"; =; ;',
        "\x01=\x02",
    ):
        assert site.get("/", headers={"cookie": cookie}).status_code == 200


def name_of(text: str) -> str:
    """The text as a name that the API takes."""
    return " ".join(text[:60].split())


def everywhere(text: str) -> bytes:
    """A procedure with this text as the name of all that has one, too."""
    whole = json.loads(procedure(text))
    named = name_of(text)
    whole |= {
        "crew": {"EV1": {"does": text}, "EV2": {"does": text}},
        "windows": {named: [["0:00", "9:00"]]},
        "tools": [named],
        "supplies": [{"supply": named, "who": "EV1", "unit": named, "reserve": 1}],
        "rounds": [{"round": named, "asks": text, "who": "EV1", "every": "1 h"}],
    }
    whole["tasks"][0] |= {"within": named, "needs": [named]}
    whole["tasks"][2] |= {"who": "EV2"}
    return json.dumps(whole, ensure_ascii=False).encode()


def orders(text: str) -> list[dict[str, object]]:
    """Every order that takes free text, each of which may be given, in this order, in a run of `everywhere`."""
    named = name_of(text)
    return [
        {"do": "acknowledge", "step": "one/1", "person": "EV1"},
        {"do": "poll", "text": text, "who": ["EV1", "EV2"]},
        {"do": "poll-no-go", "poll": "poll-1", "person": "EV2", "reason": text},
        {"do": "close-poll", "poll": "poll-1", "reason": text},
        {"do": "flag", "reason": text, "step": "one/1"},
        {"do": "note", "reason": text, "person": "EV2"},
        {"do": "round-bad", "round": named, "person": "EV1", "reason": text, "readings": {named: 3}},
        {"do": "reading", "supply": named, "person": "EV1", "value": 2.5},
        {"do": "tool", "tool": named, "how": "left", "where": text[:200], "person": "EV1", "reason": text},
        {"do": "revise", "step": "one/1", "takes": "9 min", "reason": text},
        {"do": "add-step", "text": text[:300], "who": ["EV2"], "takes": "1 min", "reason": text},
        {"do": "put-off", "task": "two", "reason": text},
        {"do": "not-needed", "step": "one/1", "reason": text},
        {"do": "no-go", "step": "one/2", "person": "EV1", "reason": text},
        {"do": "hand-over", "to": named[:40], "reason": text},
    ]


WHOLE_PAGES = (*PAGES, "handover", "list/EV2")


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_every_order_that_takes_text_shows_it_as_text(site: Site, text: str) -> None:
    sent = site.post("/api/procedures", content=everywhere(text), headers={"content-type": "application/yaml"})
    if sent.status_code == 422:
        assert "\u202e" in text  # A hidden direction mark is the one that no file may hold.
        return
    run = int(site.post("/api/runs", json={"procedure": "hostile"}).json()["run"])
    for order in orders(text):
        answer = site.post(f"/api/runs/{run}/orders", json=order)
        assert answer.status_code == 200, (order, answer.text)
    for page in WHOLE_PAGES:
        harmless(site.page(f"/runs/{run}/{page}"))
    for page in ("briefing", "lists", "lists/EV1"):
        harmless(site.page(f"/procedures/{sent.json()['revision']}/{page}"))
    log = words(site.page(f"/runs/{run}/log"))
    assert log.count(name_of(text)) >= len(orders(text)) - 3
    for what in ("", "/events", "/watch", "/carried", "/outlook"):
        answer = site.get(f"/api/runs/{run}{what}")
        assert answer.status_code == 200
        assert answer.headers["content-type"] == "application/json"
        assert answer.headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize("text", [*HOSTILE, "\x00", "\x1b[2J", "\u2028", "a\r\nSet-Cookie: b=c", "\ufeff", "\ud7ff"])
def test_no_text_of_an_order_is_an_error_and_none_forges_an_answer(site: Site, text: str) -> None:
    """Also what no file may hold: an order is refused for it, or keeps it as it is."""
    run = site.start(everywhere("plain"))
    odd: list[dict[str, object]] = [{"do": text}, {"do": "go", "step": text}, {"do": "tool", "tool": text}]
    for order in orders(text) + odd:
        answer = site.post(f"/api/runs/{run}/orders", json=order)
        assert answer.status_code in (200, 409, 422), (order, answer.text)
        assert "set-cookie" not in answer.headers
        form = site.post(f"/runs/{run}/orders", data={**order, "page": "desk"})
        assert form.status_code in (303, 409, 422)
        harmless(form.text)
    for page in WHOLE_PAGES:
        harmless(site.page(f"/runs/{run}/{page}"))


MARKS_THAT_COMBINE = "a" + "\u0301" * 100_000
NO_WIDTH = "a" + "\u200b\u200d\u2060" * 15_000


@pytest.mark.parametrize("text", [MARKS_THAT_COMBINE, NO_WIDTH], ids=["combining marks", "blanks without width"])
def test_very_many_marks_are_refused_or_cut(site: Site, text: str) -> None:
    """Shown, they would cover the page above, or hold up the browser."""
    run = site.start()
    for do, field in (
        ("note", "reason"),
        ("flag", "reason"),
        ("poll", "text"),
        ("mark", "step"),
        ("what-if", "change"),
    ):
        assert site.post(f"/api/runs/{run}/orders", json={"do": do, field: text}).status_code == 422
        form = {"do": do, field: text, "page": "desk"}
        assert site.post(f"/runs/{run}/orders", data=form).status_code == 422
    for name in ("by", "station"):
        assert site.post(f"/api/runs/{run}/marks", json={"step": "rig/1", name: text}).status_code == 422
    assert site.post("/name", data={"name": text}).status_code == 303
    site.done(run, "rig/1")
    logged = site.json(f"/api/runs/{run}/events")
    assert len(logged) == 2
    assert len(logged[-1]["by"]) <= 40
    assert len(site.page(f"/runs/{run}/log")) < 60_000


def test_a_text_of_the_longest_is_shown_whole_and_no_page_grows_beyond_measure(site: Site) -> None:
    run = site.start()
    text = ("a" + "\u0301" * 30) * 64  # as many marks as a letter may have
    assert site.post(f"/api/runs/{run}/orders", json={"do": "note", "reason": text}).status_code == 200
    assert text in site.page(f"/runs/{run}/log")
