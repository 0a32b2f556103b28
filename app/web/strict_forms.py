"""Forms as the pages send them: in UTF-8, as HTML has it. It reads no field of them."""

from python_multipart.multipart import parse_options_header
from starlette.datastructures import Headers
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Receive, Scope, Send

FORMS = (b"multipart/form-data", b"application/x-www-form-urlencoded")
UTF_8 = (b"utf-8", b"utf8", b"us-ascii")


class StrictForms:
    """Refuses a form in another encoding (415): some decode to half a character, and some fail in ways of their own."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and not _is_utf_8(Headers(scope=scope).get("content-type", "")):
            await PlainTextResponse("Send forms in UTF-8.", 415)(scope, receive, send)
            return
        await self.app(scope, receive, send)


def _is_utf_8(content_type: str) -> bool:
    """Whether it is no form, or one that says UTF-8 or nothing. It is taken apart as the reader of the form does it."""
    kind, more = parse_options_header(content_type)
    return kind not in FORMS or more.get(b"charset", UTF_8[0]).lower() in UTF_8
