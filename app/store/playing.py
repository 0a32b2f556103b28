"""Which rehearsals go on with simulated people in them, as the log has it. It reads no procedure."""

from sqlalchemy import Connection, exists, select

from app.store.tables import EVENT, ORIGIN, RUN

_LAST = select(EVENT.c.kind).where(EVENT.c.run == RUN.c.run).order_by(EVENT.c.seq.desc()).limit(1).scalar_subquery()
_PLAYED = (
    select(RUN.c.run)
    .where(RUN.c.kind == "rehearsal", _LAST != "RunEnded")
    .where(exists().where(EVENT.c.run == RUN.c.run, EVENT.c.kind == "PlayersSet"))
    .where(~exists().where(ORIGIN.c.run == RUN.c.run))
    .order_by(RUN.c.run)
)


def played(conn: Connection) -> tuple[int, ...]:
    """The rehearsals that have not ended and in which players were ever set; not those that were imported."""
    return tuple(conn.execute(_PLAYED).scalars())
