"""One try to sign in, by the page or the API: let in, then in turn, then looked at. `service.people` has the rules."""

from functools import partial

from app.service.rights import TooMany
from app.store.people import Session
from app.web.depends import Shell


async def signed_in(
    shell: Shell, name: str, password: str, station: str, address: str, device: str = ""
) -> tuple[str, Session]:
    """The secret of a new session, and the session. `station`, `address`, `device`: as `People.admit` has them.

    Raises:
        TooMany: too many tries, or too many at once; that one is not counted. Refusal: name and password don't fit.
    """
    admitted = shell.people.admit(name, address, device)
    work = partial(shell.people.try_password, name, password, station, admitted)
    try:
        return await shell.in_turn.run(admitted.known, work)
    except TooMany:
        shell.people.give_back(admitted)
        raise
