"""The library, the runs, their log and its receipts, and the triggers that keep them as they were written."""

import sqlalchemy as sa
from alembic import op

from app.store.column_types import TEXT, WHOLE
from app.store.faults import NotSafe
from app.store.guards import drop_refusing, guard

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

SENTENCES = {
    "revision": "a revision is never changed or deleted: load the new text as a new revision",
    "run": "a run is never changed or deleted: what happens to it is an event",
    "receipt": "a receipt is never changed or deleted: it is what was answered",
    "event": "an event is never changed or deleted: record a new one that corrects it",
}


def upgrade() -> None:
    _create_revision()
    _create_run()
    _create_receipt()
    _create_event()
    for table, sentence in SENTENCES.items():
        guard(table, sentence)


def downgrade() -> None:
    rows = op.get_bind().execute(sa.text("SELECT (SELECT count(*) FROM revision) + (SELECT count(*) FROM run)"))
    if rows.scalar_one():
        raise NotSafe("Going back before the first tables would throw the record away. Nothing was changed.")
    for table in ("event", "receipt", "run", "revision"):
        op.drop_table(table)
    drop_refusing()


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, TEXT, nullable=False)


def _whole(name: str) -> sa.Column[int]:
    return sa.Column(name, WHOLE, nullable=False)


def _create_revision() -> None:
    op.create_table(
        "revision",
        *(_text(name) for name in ("hash", "procedure", "title", "text", "source", "loaded_at")),
        sa.PrimaryKeyConstraint("hash", name="pk_revision"),
        sqlite_strict=True,
    )


def _create_run() -> None:
    op.create_table(
        "run",
        sa.Column("run", WHOLE, nullable=False, autoincrement=False),
        *(_text(name) for name in ("revision", "kind", "zero_utc", "started_at")),
        sa.ForeignKeyConstraint(["revision"], ["revision.hash"], name="fk_run_revision"),
        sa.PrimaryKeyConstraint("run", name="pk_run"),
        sqlite_strict=True,
    )


def _create_receipt() -> None:
    op.create_table(
        "receipt",
        _whole("run"),
        _text("key"),
        _text("sent"),
        sa.Column("first_seq", WHOLE, nullable=True),
        sa.Column("last_seq", WHOLE, nullable=True),
        _text("answer"),
        sa.ForeignKeyConstraint(["run"], ["run.run"], name="fk_receipt_run"),
        sa.PrimaryKeyConstraint("run", "key", name="pk_receipt"),
        sqlite_strict=True,
        sqlite_with_rowid=False,
    )


def _create_event() -> None:
    op.create_table(
        "event",
        _whole("run"),
        _whole("seq"),
        _text("kind"),
        _whole("version"),
        _text("body"),
        _whole("at_s"),
        _whole("logged_s"),
        *(_text(name) for name in ("logged_at", "by", "station", "key", "chain")),
        sa.ForeignKeyConstraint(["run"], ["run.run"], name="fk_event_run"),
        sa.ForeignKeyConstraint(["run", "key"], ["receipt.run", "receipt.key"], name="fk_event_run_key"),
        sa.PrimaryKeyConstraint("run", "seq", name="pk_event"),
        sqlite_strict=True,
        sqlite_with_rowid=False,
    )
