"""What is saved of a registered table is stated under the writer at hand, within its transaction.

A write around it raises. Bulk statements (`update`, `bulk_create`) tell nothing: a test over the code finds them on
tables that are kept as records, and `verify` the rows.
"""

from collections.abc import Iterable

from django.db.models import Model, Q, QuerySet
from django.db.models.signals import post_delete, post_save

from inventory.ledger.actions import at_hand
from inventory.ledger.records import PAGE, RecordKind, keys, record_kinds


class Unstated(RuntimeError):
    """Evidence was written outside an action that states it."""


def keep(model: type[Model], name: str, *, words: Iterable[str] = (), only: Q | None = None, **more: object) -> None:
    """Keep a table under the chain, as `RecordKind` has it: also key, left_out, parts, called, trail. only: conditions
    by column alone."""
    if only is not None:
        more |= {"only": only, "holds": lambda row: _holds(only, row)}
    record_kinds[model] = RecordKind(name, model, words=frozenset(words), **more)
    keys[model] = record_kinds[model].key
    post_save.connect(_saved, sender=model, dispatch_uid=f"state-{model._meta.label}")
    post_delete.connect(_removed, sender=model, dispatch_uid=f"state-removed-{model._meta.label}")


def _holds(only: Q, row: Model) -> bool:
    """Whether a row at hand meets a condition such as Q(voucher__isnull=False) or ~Q(state="open")."""
    met = []
    for name, wanted in only.children:
        column, _, how = name.partition("__")
        value = getattr(row, row._meta.get_field(column).attname)
        met.append((value is None) == wanted if how == "isnull" else value == wanted)
    return (any(met) if only.connector == Q.OR else all(met)) != only.negated


def state_row(row: Model, *, new: bool = False) -> None:
    """State a row as it stands at hand: for what is written around `save`. Raises Unstated where no action runs."""
    kind = record_kinds[type(row)]
    if not kind.holds(row):
        return
    writer = at_hand()
    if writer is None:
        raise Unstated(f"{kind.title} {row} is evidence: write it inside `writing()` or an action that is `stated`.")
    said = kind.document(row)
    writer.statements.state_text(kind.name, said.key, said.body, said.words, new=new)


def state_rows(rows: QuerySet) -> None:
    """State rows that were written in bulk, as they stand in the database: a page of them an entry."""
    kind, writer = record_kinds[rows.model], at_hand()
    for count, said in enumerate(kind.documents(rows), 1):
        writer.statements.state_text(kind.name, said.key, said.body, said.words, new=True)
        if count % PAGE == 0:
            writer.end()


def _saved(sender: type[Model], instance: Model, created: bool, raw: bool = False, update_fields=None, **_more) -> None:
    kind = record_kinds[sender]
    if raw or getattr(instance, "unnamed", False):  # its code comes with another save
        return
    if update_fields is not None and set(update_fields) <= set(kind.left_out):
        return
    named_now = getattr(instance, "named_now", False)
    if update_fields is not None and not named_now:
        instance = sender._base_manager.get(pk=instance.pk)  # the row, whatever else was set on the object
    state_row(instance, new=(created or named_now) and not kind.parts)


def _removed(sender: type[Model], instance: Model, **_more) -> None:
    kind = record_kinds[sender]
    if not kind.holds(instance):
        return
    writer = at_hand()
    if writer is None:
        raise Unstated(f"{kind.title} {instance} is evidence: remove it inside `writing()`.")
    writer.statements.state(kind.name, kind.key_of(instance), None)
