"""The people with accounts, and their sessions. Neither is part of the record, so both may change."""

import sqlalchemy as sa
from alembic import op

from app.store.column_types import TEXT, WHOLE

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

ASIDE = "person_0002"
"""Where a downgrade keeps the people, so that a later upgrade has them again. An older Leadline does not look there."""


def upgrade() -> None:
    if sa.inspect(op.get_bind()).has_table(ASIDE):
        op.rename_table(ASIDE, "person")
    else:
        _create_person()
    _create_session()


def downgrade() -> None:
    op.drop_table("session")  # Everybody signs in anew.
    op.rename_table("person", ASIDE)


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, TEXT, nullable=False)


def _create_person() -> None:
    op.create_table(
        "person",
        *(_text(name) for name in ("name", "may", "password")),
        sa.Column("enabled", WHOLE, nullable=False),
        _text("added_at"),
        sa.PrimaryKeyConstraint("name", name="pk_person"),
        sqlite_strict=True,
    )


def _create_session() -> None:
    op.create_table(
        "session",
        *(_text(name) for name in ("token", "person", "station", "begun_at", "ends_at")),
        sa.ForeignKeyConstraint(["person"], ["person.name"], name="fk_session_person"),
        sa.PrimaryKeyConstraint("token", name="pk_session"),
        sqlite_strict=True,
    )
