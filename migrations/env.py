"""Alembic's entry: run the migrations on the connection that `app.store.migrate` passes in. It opens none itself."""

from alembic import context

from app.store.tables import METADATA

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
    compare_type=True,
    # SQLite can change little in place; such a change is made on a copy of the table, in the same transaction.
    render_as_batch=True,
    transactional_ddl=True,
)
with context.begin_transaction():
    context.run_migrations()
