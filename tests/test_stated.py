"""Evidence is written by `save` alone, which states it: a bulk statement states nothing.

Found in the syntax tree: `update` with columns named, `bulk_create`, `bulk_update`, `_raw_delete`, `insert` of the
logbook, and SQL that writes a table. Each place that has one is listed here, with the reason that it may.
"""

import ast
import re
from collections.abc import Iterator

from django.apps import apps

from inventory.ledger.records import record_kinds
from tests.test_house import FLOORS, ROOT, SOURCES, imports

ALLOWED = {
    "inventory/containers/rows.py flush bulk_create Container": "each was stated by `adopt`, under its voucher",
    "inventory/containers/rows.py flush SQL inventory_container": "what its record holds was stated by `adopt`",
    "inventory/counting/entering.py give_reason update CountEntry": "of a count that is open, which is no evidence yet",
    "inventory/counting/entering.py see_rest bulk_create CountEntry": "of a count that is open, no evidence yet",
    "inventory/counting/entering.py keep_note update Count": "of a count that is open, which is no evidence yet",
    "inventory/ledger/erasing.py _blank update part": "what is left of erased words; the erasure names their digests",
    "inventory/ledger/erasing.py _blank update type(row)": "what is left of erased words",
    "jobs/signing/erasing.py _blank_dropped update job": "drafts that were dropped, which are no evidence",
    "shopledger/backup/staging.py _empty SQL": "a database is put back whole, and proved",
    "shopledger/backup/staging.py _load SQL": "a database is put back whole, and proved",
    "shopledger/logbook/jobs.py write insert Job": "they are stated with their lines, by `state_rows` behind it",
    "shopledger/logbook/jobs.py write insert JobLine": "they are stated with their jobs",
    "shopledger/logbook/rows.py insert SQL": "the writer itself: whoever calls it is found by that",
}
RECEIVERS = {  # what a name stands for where the call does not say it
    "entries.update": "CountEntry",
    "found.update": "LogUpload",
}
BULK = ("bulk_create", "bulk_update", "_raw_delete")
WRITES = re.compile(r"\b(?:INSERT INTO|UPDATE|DELETE FROM|REPLACE INTO)\s+(\w+|$)")


def kept() -> dict[str, str]:
    """The models that are kept as records, and their parts: name to table."""
    models = [one for kind in record_kinds.values() for one in (kind.model, *(part.model for part in kind.parts))]
    return {model.__name__: model._meta.db_table for model in models}


def known() -> set[str]:
    return {model.__name__ for model in apps.get_models()}


def functions(tree: ast.AST, name: str = "") -> Iterator[tuple[str, ast.AST]]:
    """Every node, with the function that it stands in."""
    for node in ast.iter_child_nodes(tree):
        inner = node.name if isinstance(node, ast.FunctionDef | ast.ClassDef) else name
        yield inner, node
        yield from functions(node, inner)


def written(node: ast.AST) -> Iterator[str]:
    """What a node writes in bulk: the way, and the model or the table."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield from (f"SQL {table}".strip() for table in WRITES.findall(node.value))
    if not isinstance(node, ast.Call):
        return
    called = ast.unparse(node.func)
    name = called.rpartition(".")[2]
    if called == "insert" and node.args:
        yield f"insert {ast.unparse(node.args[0])}"
    elif name in BULK or (name == "update" and not node.args and node.keywords and "." in called):
        yield f"{name} {RECEIVERS.get(called) or called.partition('.')[0]}"


def found() -> set[str]:
    tables = set(kept().values())
    places = set()
    for path in SOURCES:
        if not any(name.split(".")[0] in {"django", *FLOORS} for name in imports(path)):
            continue  # it knows of no table
        for function, node in functions(ast.parse(path.read_text(encoding="utf-8"))):
            for what in written(node):
                way, _, of = what.partition(" ")
                evidence = of in tables or not of if way == "SQL" else of in kept() or of not in known()
                if evidence:
                    places.add(f"{path.relative_to(ROOT)} {function} {what}")
    return places


def test_evidence_is_written_in_bulk_only_where_it_is_stated_besides():
    assert found() == set(ALLOWED)


def test_each_way_of_writing_in_bulk_is_seen():
    tried = (
        "Scale.objects.filter(code='x').update(usual=True)",
        "Scale.objects.bulk_create(rows)",
        "Scale.objects.all()._raw_delete('default')",
        "insert(Scale, rows)",
        "cursor.execute(f'UPDATE inventory_scale SET {x} = 1')",
        "cursor.execute(f'DELETE FROM {table}')",
    )
    said = [[what for _, node in functions(ast.parse(one)) for what in written(node)] for one in tried]
    assert said == [
        ["update Scale"],
        ["bulk_create Scale"],
        ["_raw_delete Scale"],
        ["insert Scale"],
        ["SQL inventory_scale"],
        ["SQL"],
    ]
    assert not [what for _, node in functions(ast.parse("found.update(other)")) for what in written(node)]
