"""The labels that a person saw on a form that was not taken.

Whether the form can be made again is not known then (its choices may be in the database), so its class answers. A form
whose fields are made with it says their labels by `label_of(name)`, a class method.
"""

import re
import sys
from collections import defaultdict
from collections.abc import Iterable, Iterator

from django.forms import BaseForm, BaseFormSet
from django.forms.utils import pretty_name

LINE = re.compile(r"([a-z]+)-(\d{1,4})-(.+)", re.ASCII)


def line_of(name: str) -> tuple[str, str]:
    """`line-0-net_mass` as `line 1, ` and `net_mass`; of a field that is in no line the first is blank."""
    found = LINE.fullmatch(name)
    return (f"{found[1]} {int(found[2]) + 1}, ", found[3]) if found else ("", name)


def labels_of(names: Iterable[str], module: str) -> dict[str, str]:
    """The label of each field that has one, by the field's name; `line 1, Net each` in a line. module: the view's."""
    places: dict[str, dict[str, str]] = defaultdict(dict)  # line -> name within it -> name
    for name in names:
        where, field = line_of(name)
        places[where][field] = name
    classes = list(dict.fromkeys(_forms_of(module))) or list(_all_forms(BaseForm))
    labels = {}
    for where, fields in places.items():
        fitting = sorted(classes, key=lambda one: _strange(one, fields.keys()))
        for field, name in fields.items():
            label = next(filter(None, (_label(one, field) for one in fitting)), "")
            if label:
                labels[name] = f"{where}{label}"
    return labels


def _strange(form: type[BaseForm], names: Iterable[str]) -> tuple[int, int]:
    """How little a form fits what was sent: how many fields it does not know, and how many of its own did not come."""
    return len(names - form.base_fields.keys()), len(form.base_fields.keys() - names)


def _label(form: type[BaseForm], name: str) -> str:
    if name in form.base_fields:
        label = form.base_fields[name].label
        return pretty_name(name) if label is None else str(label)
    return form.label_of(name) if hasattr(form, "label_of") else ""


def _forms_of(module: str) -> Iterator[type[BaseForm]]:
    """The forms that a module names, and those of its sets of lines."""
    for one in vars(sys.modules[module]).values():
        for named in one.values() if isinstance(one, dict) else (one,):
            if isinstance(named, type) and issubclass(named, BaseForm):
                yield named
            elif isinstance(named, type) and issubclass(named, BaseFormSet) and hasattr(named, "form"):
                yield named.form


def _all_forms(form: type[BaseForm]) -> Iterator[type[BaseForm]]:
    for one in form.__subclasses__():
        yield one
        yield from _all_forms(one)
