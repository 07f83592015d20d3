"""The names behind codes."""

from collections.abc import Iterable

from django.apps import apps

from inventory.codes.models import Coded


def records_of(codes: Iterable[str]) -> dict[str, Coded]:
    """The record behind each code, by code; what is no code of a record is left out. One statement for each kind of
    record that is asked for."""
    asked: dict[str, set[str]] = {}
    for code in codes:
        asked.setdefault(code.partition("-")[0], set()).add(code)
    kinds = (model for model in apps.get_models() if issubclass(model, Coded))
    found: dict[str, Coded] = {}
    for kind in kinds:
        if kind.PREFIX in asked:
            found |= kind._base_manager.in_bulk(sorted(asked[kind.PREFIX]), field_name="code")
    return found


def names_of(codes: Iterable[str]) -> dict[str, str]:
    """What the record behind each code is called now, by code; as `records_of`."""
    return {code: record.called for code, record in records_of(codes).items()}
