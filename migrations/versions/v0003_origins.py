"""Where imported runs came from, and an index by which the runs that somebody signed are found."""

import sqlalchemy as sa
from alembic import op

from app.store.column_types import TEXT, WHOLE
from app.store.faults import NotSafe
from app.store.guards import guard

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

SENTENCE = "where a run came from is never changed or deleted: its chain is checked by it"


def upgrade() -> None:
    op.create_table(
        "origin",
        *(sa.Column(name, WHOLE, nullable=False, autoincrement=False) for name in ("run", "at_origin")),
        *(sa.Column(name, TEXT, nullable=False) for name in ("imported_at", "by", "source")),
        sa.ForeignKeyConstraint(["run"], ["run.run"], name="fk_origin_run"),
        sa.PrimaryKeyConstraint("run", name="pk_origin"),
        sqlite_strict=True,
    )
    guard("origin", SENTENCE)
    op.create_index("ix_event_by", "event", ["by"])


def downgrade() -> None:
    if op.get_bind().execute(sa.text("SELECT count(*) FROM origin")).scalar_one():
        raise NotSafe("Going back would leave imported runs whose chain can't be checked. Nothing was changed.")
    op.drop_index("ix_event_by", "event")
    op.drop_table("origin")
