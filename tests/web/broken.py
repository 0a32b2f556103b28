"""Bodies that make no sense, and what is said to them: for tests and trials of hostile requests."""

import json

import httpx

JSON = "application/json"


DEEP = 50_000


def problem(answer: httpx.Response, *statuses: int) -> dict[str, object]:
    """RFC 9457, 3: type, title, status, detail, and its own media type."""
    assert answer.status_code in statuses, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    said: dict[str, object] = answer.json()
    assert said["status"] == answer.status_code
    assert said["type"] == "about:blank"
    assert said["title"]
    assert said["detail"]
    return said


BODIES = {
    "NaN as a time": '{"step":"rig/1","at":NaN}',
    "NaN as a value": '{"step":"rig/1","values":{"angle":NaN}}',
    "Infinity": '{"step":"rig/1","values":{"angle":-Infinity}}',
    "1e999": '{"step":"rig/1","values":{"angle":1e999}}',
    "1e999 as a time": '{"step":"rig/1","at":1e999}',
    "a key twice": '{"step":"rig/1","step":"rig/2"}',
    "a value twice": '{"step":"rig/1","values":{"angle":1,"angle":2}}',
    "a hostile key twice": '{"\\ud800":1,"\\ud800":2}',
    "a lone surrogate as a step": '{"step":"\\ud800"}',
    "a lone surrogate as a name": '{"step":"rig/1","by":"\\udfff"}',
    "a lone surrogate as a key": '{"step":"rig/1","values":{"\\ud800":1}}',
    "a lone surrogate as a reason": '{"step":"rig/1","ordered_because":"\\ud800"}',
    "a lone surrogate as a time": '{"step":"rig/1","at":"\\ud800"}',
    "2**63 as a value's name": '{"step":"rig/1","values":{"depth":9223372036854775808}}',
    "true for a time": '{"step":"rig/1","at":true}',
    "true for a value": '{"step":"rig/1","values":{"angle":true}}',
    "a text for a value": '{"step":"rig/1","values":{"angle":"12"}}',
    "a fraction for a time": '{"step":"rig/1","at":1.5}',
    "null for a step": '{"step":null}',
    "5,000 digits": '{"step":"rig/1","at":' + "9" * 5_000 + "}",
    "open brackets": "[" * DEEP,
    "closed brackets": "[" * DEEP + "]" * DEEP,
    "nested objects": '{"a":' * DEEP + "1" + "}" * DEEP,
    "brackets in a value": '{"step":"rig/1","values":' + "[" * DEEP + "]" * DEEP + "}",
    "an unknown field": '{"step":"rig/1","stp":"rig/1"}',
    "no step": "{}",
    "a list": "[]",
    "a number": "7",
    "nothing": "",
    "half a body": '{"step":"rig/1"',
    "two values": '{"step":"rig/1"}{"step":"rig/1"}',
    "not UTF-8": b'{"step":"\xff"}',
    "UTF-16": '{"step":"rig/1"}'.encode("utf-16"),
    "a bad key": '{"step":"rig/1","key":"7"}',
    "an empty name": '{"step":"rig/1","by":""}',
    "a long name": '{"step":"rig/1","by":"' + "x" * 61 + '"}',
    "a long reason": '{"step":"rig/1","ordered_because":"' + "x" * 2_001 + '"}',
    "51 values": json.dumps({"step": "rig/1", "values": {f"v{number}": 1 for number in range(51)}}),
}
