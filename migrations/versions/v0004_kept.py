"""What servers of one database share besides the record: the secret of their forms. SQLite's is in a file."""

import sqlalchemy as sa
from alembic import op

from app.store.column_types import TEXT

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "kept",
        *(sa.Column(name, TEXT, nullable=False) for name in ("name", "value")),
        sa.PrimaryKeyConstraint("name", name="pk_kept"),
        sqlite_strict=True,
    )


def downgrade() -> None:
    op.drop_table("kept")  # A later upgrade makes a new secret: pages that were open then load themselves anew.
