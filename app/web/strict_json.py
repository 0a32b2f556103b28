"""JSON bodies as the API takes them: UTF-8, each key once, no NaN, and called JSON. It knows no field of them."""

import json
from collections.abc import Awaitable, Callable
from email.message import Message
from typing import Any, NoReturn

from fastapi import HTTPException, Request, Response
from fastapi.routing import APIRoute

MOST_KEYS = 1_000
"""In one object. What is sent has some dozens; each unknown one would be told. Our own bound, no source."""


class StrictJson(APIRoute):
    """A route whose JSON body, if it takes one, is read by `read_json`; another content type is refused (415)."""

    def get_route_handler(self) -> Callable[[Request], Awaitable[Response]]:  # type: ignore[override] # a coroutine is one
        handle = super().get_route_handler()

        async def strictly(request: Request) -> Response:
            if self.body_field is not None and not _is_json(request.headers.get("content-type", "")):
                raise HTTPException(415, "Send JSON, with the content type application/json.")
            return await handle(_StrictRequest(request.scope, request.receive))

        return strictly


class _StrictRequest(Request):
    async def json(self) -> Any:
        return read_json(await self.body())


def read_json(body: bytes) -> Any:
    """The value of a JSON text (RFC 8259).

    Raises:
        HTTPException: 422, a key twice, too many keys, a number that JSON does not have, or half of a surrogate pair.
        ValueError: not UTF-8, or not JSON. RecursionError: nested too deep.
    """
    value = json.loads(body.decode("utf-8"), object_pairs_hook=_each_once, parse_constant=_no_number)
    if b"\\u" in body:
        _whole_characters(value)
    return value


def _whole_characters(value: Any) -> None:
    """An escape may stand for half a character, which no file and no answer can hold (RFC 8259, 8.2)."""
    try:
        json.dumps(value, ensure_ascii=False).encode("utf-8")
    except UnicodeEncodeError:
        raise HTTPException(422, "A text holds half of a character: a \\u escape without its other half.") from None


def _each_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    if len(pairs) > MOST_KEYS:
        raise HTTPException(422, f"An object has more than {MOST_KEYS:,} keys.")
    found: dict[str, Any] = {}
    for name, value in pairs:
        if name in found:
            shown = name[:60].encode("ascii", "replace").decode()
            raise HTTPException(422, f"The key “{shown}” is there twice, and it is not said which one counts.")
        found[name] = value
    return found


def _no_number(text: str) -> NoReturn:
    raise HTTPException(422, f"{text} is not a number in JSON.")


def _is_json(content_type: str) -> bool:
    said = Message()
    said["content-type"] = content_type
    return said.get_content_type() == "application/json" or said.get_content_subtype().endswith("+json")
