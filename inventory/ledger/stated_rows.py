"""Rows as they were stated: what papers are drawn from, whatever stands in the tables."""

import copy
import json
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field

from django.db.models import Field, Model, Q

from inventory.ledger.models import Record
from inventory.ledger.records import WORDS, Part, Table, keys, record_kinds


@dataclass(frozen=True)
class Stated:
    """The document of a thing as a voucher stated it. words: what can be erased; erased: whether it was."""

    voucher: int
    body: Mapping[str, object] = field(default_factory=dict)
    words: Mapping[str, object] = field(default_factory=dict)
    erased: bool = False

    @property
    def said(self) -> dict[str, object]:
        return {**self.body, **self.words}


def stated(kind: str, key: str, by: int | None = None) -> Stated | None:
    """What was stated last of a thing, up to a voucher's number; None where nothing was, or it was removed then."""
    return stated_of([(kind, key)], by).get((kind, key))


def stated_of(
    things: Collection[tuple[str, str]], by: int | None = None, first: bool = False
) -> dict[tuple[str, str], Stated]:
    """The same of several things by kind and key, in one question; those of which nothing stands are left out. first:
    what was stated first, not last."""
    about = Q()
    for kind, key in things:
        about |= Q(kind=kind, key=key) | Q(kind=WORDS, key=f"{kind}:{key}")
    records = Record.objects.filter(about) if things else Record.objects.none()
    if by is not None:
        records = records.filter(voucher__lte=by)
    order = ("-voucher", "-line") if first else ("voucher", "line")
    latest = {(one.kind, one.key): one for one in records.order_by(*order)}
    found = {}
    for kind, key in things:
        document, words = latest.get((kind, key)), latest.get((WORDS, f"{kind}:{key}"))
        if document is None or document.body in (None, "null"):
            continue
        found[kind, key] = Stated(
            document.voucher_id,
            json.loads(document.body),
            json.loads(words.body) if words is not None and words.body else {},
            words is not None and words.body is None,
        )
    return found


def as_stated(row: Model, by: int | None = None) -> Model:
    """A row with every column as it was stated last, up to a voucher's number; the row itself where nothing was. What
    no document holds stays as it is. Its words are blank where they were erased. The answer is not to be saved."""
    kind = record_kinds[type(row)]
    found = stated(kind.name, kind.key_of(row), by)
    return revived(kind.table, copy.copy(row), found.said) if found else row


def parts_as_stated(part: Part, found: Stated, known: dict[tuple[type[Model], str], Model | None]) -> list[Model]:
    """The rows that belong to another one, as its document has them. known: rows that they may name, by their keys; the
    others are asked for, one question a table."""
    words = found.words.get(part.name, {})
    rows = []
    _ask_for_named(part.table, found.body.get(part.name, ()), known)
    for said in found.body.get(part.name, ()):
        row = part.model(pk=said["id"])
        rows.append(revived(part.table, row, {**said, **words.get(str(said["id"]), {})}, known))
    return rows


def _ask_for_named(table: Table, documents: Iterable[Mapping], known: dict) -> None:
    """Bring in the rows that documents name by a key of one column."""
    for column in table.columns:
        own = table.model._meta.get_field(column.name)
        key = keys.get(own.remote_field.model, ("pk",)) if own.remote_field is not None else ("pk",)
        if len(key) > 1 or key == ("pk",):
            continue
        model, (path,) = own.remote_field.model, key
        named = {said[column.name] for said in documents if column.name in said}
        wanted = {value for value in named if (model, value) not in known}
        if wanted:
            there = model._base_manager.filter(**{f"{path}__in": wanted})
            known |= {(model, record_kinds[model].key_of(row)): row for row in there}


def revived(table: Table, row: Model, said: Mapping, known: dict | None = None) -> Model:
    """Set a row's columns to what a document says. known: rows that were found by their keys."""
    known = {} if known is None else known
    for column in table.columns:
        own = row._meta.get_field(column.name)
        value = said.get(column.name)
        if own.remote_field is None:
            setattr(row, own.attname, _blank(own) if value is None else own.to_python(value))
        else:
            _refer(row, own, value, known)
    return row


def _blank(own: Field) -> object:
    """What a column holds that a document leaves out."""
    return None if own.null else own.get_default() if own.get_internal_type() == "JSONField" else ""


def _refer(row: Model, own: Field, value: object, known: dict) -> None:
    """Let a row name the one that its document names by a key."""
    model, key = own.remote_field.model, keys.get(own.remote_field.model, ("pk",))
    if value is None:
        setattr(row, own.name, None)
    elif key == ("pk",):
        if getattr(row, own.attname) != value:
            setattr(row, own.attname, value)
    else:
        there = row._state.fields_cache.get(own.name)
        if there is not None and record_kinds[model].key_of(there) == value:
            return
        if (model, value) not in known:
            known[model, value] = model._base_manager.filter(
                **dict(zip(key, value.rsplit("/", len(key) - 1), strict=True))
            ).first()
        setattr(row, own.name, known[model, value])
