"""What somebody could do to a database behind the program's back: worked out from the models, not from a list."""

import datetime as dt
import json
import re
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from django.apps import apps
from django.db import IntegrityError, connection, models, transaction
from django.db.models import Field, Model

from inventory.ledger import canonical
from inventory.ledger.models import ChainHead, Record, Voucher
from inventory.ledger.records import record_kinds

FLOORS = ("inventory", "jobs", "shopledger")
ELSEWHERE = 987_654_321  # the number of no row
BLANK = (None, "", [], {})


def tables() -> dict[str, type[Model]]:
    """Every table of the three floors, those that Django makes for relations among them."""
    found = (one for floor in FLOORS for one in apps.get_app_config(floor).get_models(include_auto_created=True))
    return {one._meta.label: one for one in found}


@dataclass(frozen=True)
class Manipulation:
    """what: in words, for whoever reads a failure. column: `app.Model.column`, or the table alone where whole rows are
    added or removed. named: what a fault must name one of; do: raises IntegrityError where it cannot be done."""

    what: str
    column: str
    named: frozenset[str]
    do: Callable[[], None]


def manipulations(model: type[Model], all_of_them: bool = False) -> Iterator[Manipulation]:
    """Each column changed, and filled where it is blank; rows removed, and added. Of a table that is compared with its
    records whole, where each column is like the other, one change of each, unless all_of_them."""
    rows = list(model._base_manager.order_by("pk"))
    few = (model in record_kinds or model in parts()) and not all_of_them
    for at, field in enumerate(model._meta.concrete_fields):
        held = [row for row in rows if _value(row, field) not in BLANK]
        blank = [row for row in rows if _value(row, field) in BLANK]
        for turn in range(at, at + 1) if few and held else range(9 if held else 0):
            row = (held[len(held) // 2], held[-1], held[0])[turn % 3]
            found = _others(field, row, rows)
            if few or turn < len(found):
                yield _changed(row, field, found[turn // 3 % len(found) if few else turn])
        for row in blank[: 0 if few and held else 1]:
            found = _others(field, row, rows)
            yield from (_changed(row, field, value) for value in (found[-1:] if few else found))
    for row in _spread(rows, 2 if few else 6):
        yield _removed(row)
    for row in _spread(rows, 1 if few else 3):
        yield _copied(row, rows)


def parts() -> set[type[Model]]:
    return {part.model for kind in record_kinds.values() for part in kind.parts}


# -- which rows, and which values ----------------------------------------------------------------------------


def _spread(rows: list[Model], most: int) -> list[Model]:
    """So many of the rows, from the first to the last, and of each kind of entry one."""
    first: dict[str, Model] = {}
    for row in rows if rows and isinstance(rows[0], Voucher) else ():
        first.setdefault(row.kind, row)
    step = max(len(rows) // most, 1)
    return list(dict.fromkeys([*first.values(), *rows[::step][:most]])) if rows else []


def _value(row: Model, field: Field) -> object:
    return getattr(row, field.attname)


def _others(field: Field, row: Model, rows: list[Model]) -> list[object]:
    """Other values that a column could hold: plausible ones, and nothing."""
    value = _value(row, field)
    if field.primary_key and field.remote_field is None:
        return [ELSEWHERE]
    if field.remote_field is not None:
        found = _other_rows(field, value)
    elif field.choices:
        found = [one for one, _ in field.choices if one != value][:2]
    else:
        found = list(_of_type(field, value, rows))
    if field.null and value is not None:
        found.append(None)
    return [one for one in dict.fromkeys(map(_hashable, found)) if _plain(one) != value]


def _hashable(value: object) -> object:
    return _Json(value) if isinstance(value, dict | list) else value


class _Json:
    def __init__(self, value: object):
        self.value = value


def _plain(value: object) -> object:
    return value.value if isinstance(value, _Json) else value


def _other_rows(field: Field, value: object) -> list[object]:
    keys = field.remote_field.model._base_manager.exclude(pk=value).order_by("pk").values_list("pk", flat=True)
    return [*keys[:1], ELSEWHERE]


def _of_type(field: Field, value: object, rows: list[Model]) -> Iterator[object]:
    kind = field.get_internal_type()
    if kind in ("CharField", "TextField"):
        yield next((other for row in rows if (other := _value(row, field)) not in ("", None, value)), "x")
        if value:
            yield ""
            yield _other_text(value)
    elif kind == "BooleanField":
        yield not value
    elif kind.endswith("IntegerField"):
        if value:
            yield 0
        yield (value or 0) + 1
    elif kind == "FloatField":
        yield (value or 0) + 0.1
    elif kind == "DecimalField":
        yield (value or 0) + 1
    elif kind == "DateField":
        yield (value or dt.date(2026, 1, 1)) + dt.timedelta(1)
    elif kind == "DateTimeField":
        yield (value or dt.datetime(2026, 1, 1, tzinfo=dt.UTC)) + dt.timedelta(seconds=1)
    elif kind == "UUIDField":
        yield uuid.uuid4()
    elif kind == "JSONField":
        yield {} if isinstance(value, dict) else []
        yield {**value, "x": "1"} if isinstance(value, dict) else [*value, "x"]
    else:
        raise TypeError(f"say what else a {kind} could hold")


def _other_text(value: str) -> str:
    """A text with one character changed, a digit where there is one: a digest, a number or an amount stays one."""
    found = re.search(r"\d(?=\D*$)", value)
    at = found.start() if found else len(value) - 1
    now = value[at]
    return f"{value[:at]}{(int(now) + 1) % 10 if now.isdigit() else 'q' if now != 'q' else 'p'}{value[at + 1 :]}"


# -- what is done --------------------------------------------------------------------------------------------


def _changed(row: Model, field: Field, value: object) -> Manipulation:
    plain = _plain(value)

    def do() -> None:
        assert type(row)._base_manager.filter(pk=row.pk).update(**{field.attname: plain}) == 1

    before = str(_value(row, field))[:40]
    label = f"{row._meta.label}.{field.attname}"
    names = names_of(row) | ({str(plain)} if field.primary_key or field.unique else set())
    return Manipulation(f"{label} of {row.pk}: {before!r} becomes {str(plain)[:40]!r}", label, frozenset(names), do)


def _removed(row: Model) -> Manipulation:
    def do() -> None:
        type(row)._base_manager.filter(pk=row.pk)._raw_delete("default")

    return Manipulation(f"{row._meta.label} {row.pk} is removed", row._meta.label, frozenset(names_of(row)), do)


def _copied(row: Model, rows: list[Model]) -> Manipulation:
    copy = type(row)(**{field.attname: _value(row, field) for field in row._meta.concrete_fields})
    meta = row._meta
    numbered = meta.pk.get_internal_type() in ("BigAutoField", "AutoField")
    copy.pk = None if numbered else max(one.pk for one in rows) + 1
    for field in meta.concrete_fields:
        if field.unique and not field.primary_key and _value(row, field) is not None:
            setattr(copy, field.attname, _another(field, row, rows))
    for one in meta.constraints:
        if isinstance(one, models.UniqueConstraint) and one.fields and one.condition is None:
            field = meta.get_field(one.fields[-1])
            setattr(copy, field.attname, _another(field, row, rows))

    def do() -> None:
        copy.save_base(raw=True, force_insert=True)
        names.update(names_of(copy))

    names = set(names_of(row))
    return Manipulation(f"{meta.label} {row.pk} is copied", meta.label, names, do)


def _another(field: Field, row: Model, rows: list[Model]) -> object:
    """A value of a column that no row holds."""
    taken = {_value(one, field) for one in rows}
    value = _value(row, field)
    if field.remote_field is not None:
        if field.null and field.unique:
            return None
        keys = field.remote_field.model._base_manager.values_list("pk", flat=True)
        return next((key for key in keys if key not in taken), value)
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return max(taken) + 1
    if isinstance(value, dt.date):
        return max(taken) + dt.timedelta(1)
    if isinstance(value, uuid.UUID):
        return uuid.uuid4()
    return f"{value[: (field.max_length or 40) - 3]}-cp"


# -- what names a row ----------------------------------------------------------------------------------------

# Of a table that is no record: the columns that say which entry, account or seal a row belongs to.
BELONGS = {
    "inventory.Account": ("key", "pk"),
    "inventory.Voucher": ("number",),
    "inventory.Record": ("voucher_id",),
    "inventory.Movement": ("voucher_id",),
    "inventory.Weighing": ("voucher_id",),
    "inventory.ContainerEntry": ("voucher_id",),
    "inventory.SealBalance": ("seal__through", "account_id"),
    "inventory.SealTotal": ("seal__through",),
}


def names_of(row: Model) -> set[str]:
    """What a fault may call a row by."""
    kind = record_kinds.get(type(row))
    if kind is not None:
        return {kind.key_of(row)}
    for owner in record_kinds.values():
        for part in owner.parts:
            if isinstance(row, part.model):
                return {owner.key_of(getattr(row, part.parent))}
    if row._meta.label == "inventory.ChainHead":
        return {"head", "ledger"}
    return {str(_along(row, path)) for path in BELONGS[row._meta.label]}


def _along(row: Model, path: str) -> object:
    for name in path.split("__"):
        row = getattr(row, name)
    return row


def names(message: str, wanted: set[str]) -> bool:
    return any(re.search(rf"(?<![\w-]){re.escape(one)}(?![\w-])", message) for one in wanted)


@contextmanager
def undone() -> Iterator[None]:
    """What is done within leaves nothing."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


@contextmanager
def unchecked() -> Iterator[None]:
    """The database without its CHECK constraints; foreign keys are asked at the end of a transaction alone."""
    if connection.vendor == "sqlite":
        _pragma("ON")
        try:
            yield
        finally:
            _pragma("OFF")
        return
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        cursor.execute("SET CONSTRAINTS ALL DEFERRED")
        for model in tables().values():
            for one in model._meta.constraints:
                if isinstance(one, models.CheckConstraint):
                    cursor.execute(f'ALTER TABLE "{model._meta.db_table}" DROP CONSTRAINT IF EXISTS "{one.name}"')
    yield


def _pragma(how: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"PRAGMA ignore_check_constraints = {how}")


def possible(one: Manipulation) -> bool:
    """Whether the database lets it be done: a key that must be there, or is taken, it never gives up."""
    try:
        with transaction.atomic():
            one.do()
    except IntegrityError:
        return False
    return True


# -- what agrees with itself ---------------------------------------------------------------------------------


def row_changed(row: Model, **values: object) -> None:
    type(row)._base_manager.filter(pk=row.pk).update(**values)


def record_remade(record: Record, **said: object) -> None:
    """A record with other things in its body, and the digest that fits."""
    body = canonical.canonical_json({**json.loads(record.body), **said})
    row_changed(record, body=body, digest=canonical.record_digest(record.salt, body))


def chain_remade() -> None:
    """Every digest of the chain as it follows from what stands there, and the head with it."""
    head = ChainHead.objects.get()
    previous = canonical.genesis(head.ledger_id)
    for voucher in Voucher.objects.order_by("number"):
        said = canonical.Said(
            voucher.number,
            voucher.day.isoformat(),
            *(getattr(voucher, name) for name in canonical.Said._fields[2:7]),
            voucher.reverses_id,
            voucher.key,
            voucher.detail,
        )
        moved = voucher.movements.order_by("line").select_related("source", "target")
        movements = [canonical.movement_text(m.source.key, m.target.key, m.quantity, m.reversal) for m in moved]
        records = [canonical.record_text(r.kind, r.key, r.digest) for r in voucher.records.order_by("line")]
        previous = canonical.digest(previous, canonical.voucher_text(said, movements, records))
        row_changed(voucher, digest=previous)
        last = voucher
    row_changed(head, digest=previous, number=last.number, recorded_at=last.recorded_at)
