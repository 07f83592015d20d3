"""Which tables are kept under the chain as records, and what each row comes to as a document.

A room registers its models in `apps.ready`. From then on whatever is saved of them is stated under the writer at hand
(`stating.py`), and `verify` compares the rows with the latest records, both ways (`record_proof.py`). A document holds
every column of its row: what is personal, or free text, stands in a second one, the row's words, which has a salt and
can be erased. Another row is named by its key, never by a name that may change.
"""

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from operator import itemgetter
from typing import NamedTuple

from django.db.models import Field, Model, Q, QuerySet

from inventory.ledger.canonical import canonical_json

WORDS = "words"  # the kind of the records that can be erased; their key is the other record's kind and key
PAGE = 1000


class Document(NamedTuple):
    """What a row says. body, words: canonical JSON; words are blank where there are none."""

    key: str
    body: str
    words: str


@dataclass(frozen=True)
class Part:
    """Rows that belong to another one and stand in its document as a list: of a job its lines. name: of the list, and
    of the relation that leads to them. parent: the column that names the other row."""

    name: str
    model: type[Model]
    parent: str
    words: frozenset[str] = frozenset()

    @cached_property
    def table(self) -> "Table":
        return Table(self.model, self.words, {self.parent: "the row that it belongs to"})


@dataclass(frozen=True)
class RecordKind:
    """A table under the chain. name: the records' kind. key: the columns that name a row for good. words: the columns
    that can be erased. left_out: columns that no document holds, each with the reason; `verify` does not read them.
    only: which rows are evidence, where not all are: a draft is none yet; holds: the same of a row at hand. trail:
    whether its changes are told to people as what happened beside the ledger. called: the column among its words that
    holds the key once they are erased, where it cannot be blank."""

    name: str
    model: type[Model]
    key: tuple[str, ...] = ("pk",)
    words: frozenset[str] = frozenset()
    left_out: Mapping[str, str] = field(default_factory=dict)
    only: Q | None = None
    holds: Callable[[Model], bool] = lambda row: True
    parts: tuple[Part, ...] = ()
    trail: bool = True
    called: str = ""

    @cached_property
    def table(self) -> "Table":
        return Table(self.model, self.words, self.left_out)

    @property
    def worded(self) -> bool:
        """Whether anything of it can be erased."""
        return bool(self.words) or any(part.words for part in self.parts)

    @property
    def title(self) -> str:
        """The kind in words."""
        return str(self.model._meta.verbose_name)

    def rows(self) -> QuerySet:
        """The rows that are evidence."""
        found = self.model._base_manager.all()
        return found.filter(self.only) if self.only is not None else found

    def key_of(self, row: Model) -> str:
        return "/".join(str(_along(row, path)) for path in self.key)

    def words_erased(self, key: str) -> str:
        """The words of a row once they were erased: it is called by its code where it must be called something."""
        return canonical_json({self.called: key}) if self.called else ""

    def document(self, row: Model) -> Document:
        """What a row at hand says; its parts are asked for."""
        body, words = self.table.said(self.table.values(row))
        for part in self.parts:
            _add(body, words, part, part.table.by_parent(part.parent, [row.pk]).get(row.pk, ()))
        return _document(self.key_of(row), body, words)

    def documents(self, rows: QuerySet | None = None) -> Iterator[Document]:
        """What rows, all where none are named, say as they stand in the database, read in pages so that memory stays
        flat."""
        wanted = self._all if rows is None else self._in_order(rows)
        found = list(wanted[:PAGE])
        while found:
            yield from self._page(found, len(self.key))
            found = list(wanted.filter(pk__gt=found[-1][0])[:PAGE]) if len(found) == PAGE else []

    @cached_property
    def _all(self) -> QuerySet:
        """Made once: for a table of few rows, making it takes as long as asking it."""
        return self._in_order(self.rows())

    def _in_order(self, rows: QuerySet) -> QuerySet:
        pk = self.model._meta.pk
        return rows.order_by("pk").values_list(
            pk.attname, *(path if path != "pk" else pk.name for path in self.key), *self.table.paths
        )

    def _page(self, found: Sequence[tuple], keys: int) -> Iterator[Document]:
        of = [(part, part.table.by_parent(part.parent, [row[0] for row in found])) for part in self.parts]
        for pk, *values in found:
            body, words = self.table.said(values[keys:])
            for part, rows in of:
                _add(body, words, part, rows.get(pk, ()))
            yield _document("/".join(map(str, values[:keys])), body, words)


def _document(key: str, body: dict, words: dict) -> Document:
    return Document(key, canonical_json(body), canonical_json(words) if words else "")


def _add(body: dict, words: dict, part: Part, rows: Iterable[Sequence]) -> None:
    """Put a row's parts into its document, by their numbers."""
    said = [part.table.said(values) for values in rows]
    if said:
        found = [one for one, _ in said]
        body[part.name] = found if len(found) == 1 else sorted(found, key=itemgetter("id"))
    worded = {str(one["id"]): its for one, its in said if its}
    if worded:
        words[part.name] = worded


class Column(NamedTuple):
    """A column as documents have it. paths: its value's, or those of the key of the row that it names; where it may
    name none, its own before these, so that one that is not there is told from none. say: the value as JSON holds it.
    read: a value of a row that was not read from the database."""

    name: str
    paths: tuple[str, ...]
    say: Callable[[object], object] | None
    read: Callable[[object], object] | None
    is_words: bool
    listed: bool = False

    @property
    def is_special(self) -> bool:
        """Whether its value does not go into the body as it is: most do, and a proof asks for every row."""
        return self.is_words or self.listed or self.say is not None or len(self.paths) > 1


class Table:
    """How the rows of a model become documents."""

    def __init__(self, model: type[Model], words: frozenset[str], left_out: Mapping[str, str]):
        unknown = (words | set(left_out)) - {one.name for one in model._meta.concrete_fields}
        if unknown:
            raise ValueError(f"{model.__name__} has no {', '.join(sorted(unknown))}")
        self.model = model
        self.columns = [_column(one, words) for one in model._meta.concrete_fields if one.name not in left_out]
        self.paths = [path for column in self.columns for path in column.paths]
        self._names: list[str] = []  # by place, of what goes into the body as it is; blank for the others
        self._places: list[tuple] = []  # the others
        for one in self.columns:
            at, width = len(self._names), len(one.paths)
            self._names += ["" if one.is_special else one.name, *[""] * (width - 1)]
            if one.is_special:
                self._places.append((at, at + width, one.name, one.say, one.is_words))

    def values(self, row: Model) -> list:
        """A row's values along `paths`."""
        found = []
        for column in self.columns:
            for path in column.paths:
                value = _along(row, path)
                found.append(column.read(value) if column.read else value)
        return found

    def by_parent(self, parent: str, numbers: Sequence) -> dict[object, list[Sequence]]:
        """The rows that belong to others, by the number of the one they belong to."""
        column = self.model._meta.get_field(parent).attname
        found: dict[object, list[Sequence]] = {}
        for number, *values in self.model._base_manager.filter(**{f"{column}__in": numbers}).values_list(
            column, *self.paths
        ):
            found.setdefault(number, []).append(values)
        return found

    def said(self, values: Sequence) -> tuple[dict, dict]:
        """Body and words; what is blank is left out."""
        body = {
            name: value
            for name, value in zip(self._names, values, strict=True)
            if value is not None and name and value != ""
        }
        words: dict[str, object] = {}
        for at, end, name, say, is_words in self._places:
            value = values[at]
            if value is None or value == "" or value == [] or value == {}:
                continue
            if end - at > 1:
                value = _key_said(value, values[at + 1 : end])
            elif say is not None:
                value = say(value)
            if is_words:
                words[name] = value
            else:
                body[name] = value
        return body, words


def _key_said(number: object, key: Sequence) -> str:
    """The key of the row of a number; None in it: there is no such row."""
    return f"number {number}, which is not there" if None in key else "/".join(map(str, key))


def _along(row: Model, path: str) -> object:
    """A value by its path from a row, e.g. `scale__code`."""
    value: object = row
    for name in path.split("__"):
        if value is None:
            return None
        value = getattr(value, name)
    return value


def _column(one: Field, words: frozenset[str]) -> Column:
    if one.remote_field is not None:
        key = keys.get(one.remote_field.model, ("pk",))
        if key == ("pk",):
            return Column(one.name, (one.attname,), None, None, one.name in words)
        paths = tuple(f"{one.name}__{path}" for path in key)
        if one.null or len(key) > 1:
            paths = (one.attname, *paths)
        return Column(one.name, paths, str, None, one.name in words)
    kind = one.get_internal_type()
    read = None if kind == "JSONField" else one.to_python
    return Column(one.name, (one.attname,), SAYINGS.get(kind), read, one.name in words, kind == "JSONField")


def moment_said(value: dt.datetime) -> str:
    """A moment as records have it: UTC, YYYY-MM-DDTHH:MM:SS.ffffffZ."""
    in_utc = value if value.tzinfo is dt.UTC else value.astimezone(dt.UTC)
    return f"{in_utc.isoformat(timespec='microseconds')[:26]}Z"


SAYINGS: dict[str, Callable] = {
    "DateTimeField": moment_said,
    "DateField": dt.date.isoformat,
    "UUIDField": str,
    "DecimalField": str,
    "FloatField": repr,  # the shortest digits that give it back: JSON's numbers are whole here
}

record_kinds: dict[type[Model], RecordKind] = {}
others = {WORDS, "entry", "ledger", "rulebook", "erased"}  # what else records are about: no table; rooms add to it
keys: dict[type[Model], tuple[str, ...]] = {}  # what names a row of a model in another's document


def kind_called(name: str) -> RecordKind | None:
    """The table whose records have this kind."""
    return next((kind for kind in record_kinds.values() if kind.name == name), None)
