"""The triggers that keep the rows of the record as they were written, for the migrations to make and take away."""

from alembic import op

REFUSING = "leadline_refuses"
"""The function of PostgreSQL that each of its triggers calls with its sentence; SQLite's hold theirs themselves."""
ACTS = {"UPDATE": "ROW", "DELETE": "ROW", "TRUNCATE": "STATEMENT"}
"""What each of PostgreSQL's refuses, and how often it is called. SQLite knows no TRUNCATE."""
BODY = " BEGIN RAISE EXCEPTION USING ERRCODE = 'integrity_constraint_violation', MESSAGE = TG_ARGV[0]; END "


def guard(table: str, sentence: str) -> None:
    """Refuse every change and removal of a row of the table, with the sentence; it holds no apostrophe."""
    if op.get_bind().dialect.name == "sqlite":
        for act in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_no_{act.lower()} BEFORE {act} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{sentence}'); END"
            )
        return
    op.execute(f"CREATE OR REPLACE FUNCTION {REFUSING}() RETURNS trigger LANGUAGE plpgsql AS '{_quoted(BODY)}'")
    for act, each in ACTS.items():
        op.execute(
            f"CREATE TRIGGER {table}_no_{act.lower()} BEFORE {act} ON {table} "
            f"FOR EACH {each} EXECUTE FUNCTION {REFUSING}('{sentence}')"
        )


def drop_refusing() -> None:
    """After the last of the tables that had guards. SQLite's went with them."""
    if op.get_bind().dialect.name != "sqlite":
        op.execute(f"DROP FUNCTION {REFUSING}()")


def _quoted(text: str) -> str:
    return text.replace("'", "''")
