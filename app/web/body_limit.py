"""How large what is sent may be: one bound for all addresses, and larger ones for those that take larger files."""

from collections.abc import Mapping

from starlette.middleware.body_limit import RequestBodyLimitMiddleware
from starlette.types import ASGIApp, Receive, Scope, Send


class BodyLimits:
    """Bytes of a body at most: those of its path in `at`, else `most`."""

    def __init__(self, app: ASGIApp, most: int, at: Mapping[str, int]) -> None:
        self._else = RequestBodyLimitMiddleware(app, max_body_size=most)
        self._at = {path: RequestBodyLimitMiddleware(app, max_body_size=size) for path, size in at.items()}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        await self._at.get(scope.get("path", ""), self._else)(scope, receive, send)
