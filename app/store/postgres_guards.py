"""Whether the guards of a PostgreSQL database are as the migrations made them. It mends nothing."""

from sqlalchemy import Connection

from app.store.guards import ACTS, BODY, REFUSING

_TRIGGERS = (
    "SELECT t.tgname, c.relname, t.tgenabled = 'O', t.tgfoid = to_regproc($$leadline_refuses$$), "
    "pg_get_triggerdef(t.oid) FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
    "JOIN pg_namespace n ON n.oid = c.relnamespace WHERE NOT t.tgisinternal AND n.nspname = current_schema()"
)
_FUNCTION = "SELECT prosrc FROM pg_proc WHERE oid = to_regproc($$leadline_refuses$$)"


def lost_guards(conn: Connection, tables: tuple[str, ...]) -> tuple[str, ...]:
    """The triggers that are missing or not as they were made, and those that are none of ours; the function too."""
    wanted = {f"{table}_no_{act.lower()}": (act, table) for table in tables for act in ACTS}
    kept = {str(name): tuple(rest) for name, *rest in conn.exec_driver_sql(_TRIGGERS).all()}
    lost = [name for name, of in wanted.items() if not _refuses(kept.get(name, ()), name, *of)]
    if conn.exec_driver_sql(_FUNCTION).scalar() != BODY:
        lost.append(REFUSING)
    return (*lost, *(name for name in kept if name not in wanted))


def _refuses(found: tuple[object, ...], name: str, act: str, table: str) -> bool:
    """Whether the trigger stands, is on, and refuses every such change without a condition."""
    if not found:
        return False
    on, is_on, ours, made = found
    begun = f"CREATE TRIGGER {name} BEFORE {act} ON "
    each = f" FOR EACH {ACTS[act]} "
    plain = str(made).startswith(begun) and f"{each}EXECUTE FUNCTION" in str(made)
    return on == table and bool(is_on) and bool(ours) and plain
