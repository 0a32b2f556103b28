"""Text from a procedure, a person or a file name is text on every page, and never markup."""

import json
import re
from urllib.parse import quote

import pytest

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
    assert "94011" not in page


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
    shown = " ".join(text.split())
    assert shown in words(site.page(f"/runs/{run}/log"))


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
