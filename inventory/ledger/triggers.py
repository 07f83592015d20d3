"""What the database itself refuses, on SQLite and on PostgreSQL.

Written-once tables take no UPDATE, no DELETE, no TRUNCATE and no REPLACE; no voucher or movement may be
dated in a sealed period; on SQLite, which has no strict column types, a quantity must be an integer.
Triggers stop mistakes and stray programs. They cannot stop the owner of the machine: the digests are for that.

Django rebuilds tables on SQLite for many schema changes and drops their triggers in silence, so
`install` runs after every migration (apps.py) and a system check names what is missing. Others may post meanwhile:
a trigger that stands is never away, not even for a moment.

On PostgreSQL a trigger belongs to the schema of its table, whatever way the one who posts looks names up.
"""

from django.db import transaction
from django.db.backends.base.base import BaseDatabaseWrapper

# table: the columns that name a row beside its primary key (REPLACE would go by any of them)
WRITTEN_ONCE: dict[str, tuple[tuple[str, ...], ...]] = {
    "inventory_voucher": (("number",), ("key",), ("digest",), ("reverses_id",)),
    "inventory_movement": (("id",), ("voucher_id", "line")),
    "inventory_seal": (("id",), ("through",)),
    "inventory_sealbalance": (("id",), ("seal_id", "account_id")),
    "inventory_sealtotal": (("id",), ("seal_id", "substance_id", "source_class", "target_class", "reversal")),
    "inventory_weighing": (("id",), ("voucher_id", "line")),
    "inventory_record": (("id",), ("voucher_id", "line")),
}
# Where a change is let through, and no other: what is left when words are erased. A table: the columns that take
# another value, with that value and what they must have held; all the others stay.
ERASED = {
    "inventory_voucher": (
        {"note": "''"},
        "OLD.note <> ''",
        (
            "number",
            "day",
            "kind",
            "recorded_at",
            "recorded_by",
            "done_by",
            "document",
            "reverses_id",
            "key",
            "detail",
            "first_revision_id",
            "digest",
        ),
    ),
    "inventory_record": (
        {"salt": "NULL", "body": "NULL"},
        "OLD.salt <> ''",
        ("id", "voucher_id", "line", "kind", "key", "digest"),
    ),
}
DATED = ("inventory_voucher", "inventory_movement")
WHOLE_NUMBERS = {
    "inventory_movement": ("quantity",),
    "inventory_sealbalance": ("balance",),
    "inventory_sealtotal": ("quantity",),
}


def _allowed(table: str, same: str) -> str:
    """The condition under which a change of a table is let through. same: the operator for two values, NULL among
    them."""
    changed, held, kept = ERASED[table]
    parts = [held]
    parts += [f"NEW.{column} {same} {value}" for column, value in changed.items()]
    parts += [f"NEW.{column} {same} OLD.{column}" for column in kept]
    return " AND ".join(parts)


def _sqlite() -> dict[str, str]:
    found: dict[str, str] = {}

    def trigger(name: str, table: str, event: str, when: str, message: str) -> None:
        found[name] = (
            f"CREATE TRIGGER {name} BEFORE {event} ON {table} {when} BEGIN SELECT RAISE(ABORT, '{message}'); END"
        )

    for table, identities in WRITTEN_ONCE.items():
        once = f"{table} is written once"
        when = f"WHEN ({_allowed(table, 'IS')}) IS NOT 1" if table in ERASED else ""
        trigger(f"{table}_no_update", table, "UPDATE", when, once)
        trigger(f"{table}_no_delete", table, "DELETE", "", once)
        same = " OR ".join(
            "EXISTS (SELECT 1 FROM {} WHERE {})".format(
                table, " AND ".join(f"{column} = NEW.{column}" for column in columns)
            )
            for columns in identities
        )
        trigger(f"{table}_no_replace", table, "INSERT", f"WHEN {same}", once)
    for table in DATED:
        when = "WHEN EXISTS (SELECT 1 FROM inventory_seal WHERE through >= NEW.day)"
        trigger(f"{table}_not_sealed", table, "INSERT", when, "that day is sealed")
    for table, columns in WHOLE_NUMBERS.items():
        when = "WHEN " + " OR ".join(f"typeof(NEW.{column}) <> 'integer'" for column in columns)
        trigger(f"{table}_whole", table, "INSERT", when, "a quantity is a whole number")
    return found


_POSTGRES_FUNCTIONS = """
CREATE OR REPLACE FUNCTION shopledger_written_once() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '% is written once', TG_TABLE_NAME USING ERRCODE = 'check_violation';
END $$;
CREATE OR REPLACE FUNCTION shopledger_not_sealed() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    sealed boolean;
BEGIN
    EXECUTE format('SELECT EXISTS (SELECT 1 FROM %I.inventory_seal WHERE through >= $1)', TG_TABLE_SCHEMA)
        INTO sealed USING NEW.day;
    IF sealed THEN
        RAISE EXCEPTION 'that day is sealed' USING ERRCODE = 'check_violation';
    END IF;
    RETURN NEW;
END $$;
"""


def _postgres() -> dict[str, str]:
    found: dict[str, str] = {}
    for table in WRITTEN_ONCE:
        when = f"WHEN (({_allowed(table, 'IS NOT DISTINCT FROM')}) IS NOT TRUE) " if table in ERASED else ""
        found[f"{table}_no_update"] = (
            f"CREATE OR REPLACE TRIGGER {table}_no_update BEFORE UPDATE ON {table} "
            f"FOR EACH ROW {when}EXECUTE FUNCTION shopledger_written_once()"
        )
        found[f"{table}_no_delete"] = (
            f"CREATE OR REPLACE TRIGGER {table}_no_delete BEFORE DELETE ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION shopledger_written_once()"
        )
        found[f"{table}_no_truncate"] = (
            f"CREATE OR REPLACE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION shopledger_written_once()"
        )
    for table in DATED:
        found[f"{table}_not_sealed"] = (
            f"CREATE OR REPLACE TRIGGER {table}_not_sealed BEFORE INSERT ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION shopledger_not_sealed()"
        )
    return found


def wanted(connection: BaseDatabaseWrapper) -> dict[str, str]:
    """The triggers that must stand in this database: name to CREATE statement."""
    return _postgres() if connection.vendor == "postgresql" else _sqlite()


def standing(connection: BaseDatabaseWrapper) -> set[str]:
    """The names of the triggers that do stand: on PostgreSQL switched on and in the present schema, on SQLite with the
    very text that is wanted."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            # Neither one that somebody disabled nor one that fires on a replica alone.
            cursor.execute(
                "SELECT t.tgname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
                "JOIN pg_namespace n ON n.oid = c.relnamespace "
                "WHERE NOT t.tgisinternal AND t.tgenabled IN ('O', 'A') AND n.nspname = current_schema()"
            )
            return {name for (name,) in cursor.fetchall()}
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        texts = wanted(connection)
        return {name for name, text in cursor.fetchall() if texts.get(name) == text}


def missing(connection: BaseDatabaseWrapper) -> list[str]:
    """The names of those that should stand and do not, in order."""
    return sorted(set(wanted(connection)) - standing(connection))


def table_of(name: str) -> str:
    return max((table for table in WRITTEN_ONCE if name.startswith(table + "_")), key=len)


def drop(connection: BaseDatabaseWrapper) -> None:
    """Take the triggers away: for tests that flush tables."""
    with connection.cursor() as cursor:
        for name in wanted(connection):
            on = f" ON {table_of(name)}" if connection.vendor == "postgresql" else ""
            cursor.execute(f"DROP TRIGGER IF EXISTS {name}{on}")


def install(connection: BaseDatabaseWrapper) -> None:
    """Put every trigger in place; safe to run again, and while others post."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute(_POSTGRES_FUNCTIONS)
            # Each in a transaction of its own: several tables locked at once could stand in the way of a posting
            # that waits for one of them and holds another.
            for statement in wanted(connection).values():
                cursor.execute(statement)
        return
    away = missing(connection)
    if not away:
        return
    texts = wanted(connection)
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        for name in away:
            cursor.execute(f"DROP TRIGGER IF EXISTS {name}")  # one that says something else
            cursor.execute(texts[name])
