"""Who asks: the person and station of the request at hand, for routes and templates alike. It decides nothing."""

from contextvars import ContextVar
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Visitor:
    """Whoever sent the request.

    Attributes:
        name: the account's; empty when nobody is signed in or there are no accounts.
        may: ``watch``, ``mark``, ``lead``, ``keep``; empty when nobody is signed in.
        open: there are no accounts, and this is the machine itself.
        token: what the forms of this session (without one, of this station) carry.
        station: the browser's label.
        session: the stored token of the session; empty without one.
        bearer: the session came in the header, which no page of another site can send.
    """

    name: str
    may: str
    open: bool
    token: str
    station: str
    session: str = ""
    bearer: bool = False


NOBODY = Visitor("", "", False, "", "")
VISITOR: ContextVar[Visitor] = ContextVar("visitor", default=NOBODY)
"""Of the request that is being answered. Templates read it as ``visitor()``, so that every form has its token without
each page's context carrying it."""
