"""Loading a sheet: judged and posted as a log is, all rows or none, its faults in the sheet's own cells."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from django.db import transaction

from inventory.text.refusal import Refused
from jobs.people.models import Person
from jobs.units.actions import change_customer, change_unit
from shopledger.logbook.actions import Loaded, LogAsked, LogRefused, Source, load_rows
from shopledger.logbook.cells import Cells
from shopledger.logbook.doubting import Answers
from shopledger.logbook.folder import Fault, Faults
from shopledger.logbook.models import LoadedLog
from shopledger.logbook.names import Names
from shopledger.sheet_meaning.asking import Question
from shopledger.sheet_meaning.plan import Plan, Pointed, plan_of
from shopledger.sheet_pages.models import LoadedSheet, SheetMapping
from shopledger.sheet_pages.queries import known_now, mapping_like
from shopledger.sheets.grid import Book

HERE = "sheet"  # the file that faults of the sheet's own cells are noted under
# column of a log -> the fields of a sheet that it is read from, the likeliest first
FIELDS = {
    "quantity": ("charged", "recovered", "oil_added"),
    "before": ("before",),
    "after": ("after",),
    "container": ("container", "into", "oil_added"),
    "username": ("username", "name"),
    "net": ("net", "gross", "substance"),
    "tare": ("tare",),
    "charge_min": ("charge_min", "factory"),
    "charge_max": ("charge_max", "factory"),
    "unit": ("unit", "vin"),
    "by": ("by",),
}
OF_ACTION = {"recover": ("recovered", "into"), "oil-add": ("oil_added", "oil"), "charge": ("charged", "container")}


@dataclass(frozen=True, order=True)
class SheetFault:
    """row, column: from 0. place: as people say it, `Store!C14`."""

    row: int
    column: int
    place: str
    message: str

    def __str__(self) -> str:
        return f"{self.place}: {self.message}"


class SheetRefused(Exception):
    """Nothing was loaded. questions: those that are open. faults: in the order of the sheet."""

    def __init__(self, message: str, questions: list[Question] | None = None, faults: list[SheetFault] | None = None):
        super().__init__(message)
        self.questions, self.faults = questions or [], faults or []


def understood(
    book: Book, kind: str, answers: Mapping[str, str], pointed: Pointed, mapping: SheetMapping | None = None
) -> tuple[Plan, SheetMapping | None]:
    """What a workbook says as a sheet of a kind, by a mapping: the one given, else one made of a sheet like it."""
    if mapping is None and not pointed.columns:
        mapping = mapping_like(kind, book)
    if mapping is not None:
        answers = {**mapping.answers, **answers}
        pointed = Pointed(pointed.sheet, pointed.head, pointed.first, pointed.last, pointed.columns, mapping.heads)
    return plan_of(book, kind, known_now(kind), answers, pointed), mapping


SURE = "sure"  # the question whether all is right that can be and hardly is
ASKED_BEFORE = {"net", "tare", "location", "supplier", "customer", "name"}  # by sheet_meaning, once for all their like


def load_plan(plan: Plan, *, check_only: bool = False, progress: Callable[[int, int], None] | None = None) -> Loaded:
    """Judge and post what a sheet becomes. What can be and hardly is, is asked as of a log, and loaded after one yes to
    the list, which is kept. Raises SheetRefused."""
    if plan.table is None:
        raise SheetRefused(
            "No table was found in it: no row holds the heads of such a sheet. Point at the row of heads."
        )
    if plan.asking.faults:
        raise SheetRefused(" ".join(plan.asking.faults.values()), plan.questions)
    if plan.questions:
        raise SheetRefused(_open(len(plan.questions)), plan.questions, own_faults(plan))
    if not plan.built.files and not plan.faults:
        raise SheetRefused("No row of the sheet is left to bring in; nothing was loaded.")
    faults = Faults()
    for row, column, message in plan.faults:
        faults.add(HERE, row, str(column), message)
    said = Answers(mark=plan.asking.answers.get(SURE, ""), before=lambda asked: asked.column in ASKED_BEFORE)
    source = Source("sheet", said, plan.book.sha256, _names_told, lambda log: _remember(plan, log))
    try:
        return load_rows(plan.folder, faults, source, check_only=check_only, progress=progress)
    except LogAsked as asked:
        found = _in_the_sheet(plan, asked.found)
        raise SheetRefused(str(asked), [_sure(found, asked.mark)], found) from None
    except LogRefused as refused:
        raise SheetRefused(str(refused), None, _in_the_sheet(plan, refused.found)) from None


def _sure(found: list[SheetFault], mark: str) -> Question:
    many = "Is this right" if len(found) == 1 else f"Are all {len(found)} right"
    said = f"{many}, which can be and hardly is? Where it is not, mend the sheet."
    return Question(SURE, said, ((mark, "yes, as it stands there"),), [one.place for one in found], lasting=False)


def _open(count: int) -> str:
    return (
        "There is one question; nothing was loaded."
        if count == 1
        else f"There are {count} questions; nothing was loaded."
    )


def own_faults(plan: Plan) -> list[SheetFault]:
    """What is wrong with its cells, before anything is judged."""
    return sorted({SheetFault(row, column, plan.place(row, column), said) for row, column, said in plan.faults})


def _in_the_sheet(plan: Plan, found: list[Fault]) -> list[SheetFault]:
    faults = set()
    for fault in found:
        if fault.file == HERE:
            row, column = fault.line, int(fault.column)
        else:
            row = plan.built.origins.get((fault.file, fault.line), max(plan.table.head_row, 0))
            column = _column(plan, fault)
        faults.add(SheetFault(row, column, plan.place(row, column), fault.message))
    return sorted(faults)


def _column(plan: Plan, fault: Fault) -> int:
    columns = plan.columns.columns
    fields = FIELDS.get(fault.column, (fault.column,))
    if fault.file == "job_lines.csv" and fault.column in {"quantity", "container"}:
        row = plan.built.files[fault.file][fault.line - 1]
        fields = OF_ACTION.get(row["action"], ()) if fault.column == "quantity" else OF_ACTION[row["action"]][::-1]
    return next((columns[name] for name in fields if name in columns), min(plan.table.columns))


def _remember(plan: Plan, log: LoadedLog) -> None:
    LoadedSheet.objects.create(digest=log.digest, kind=plan.kind, rows=plan.digests)


# -- units and customers, which no file of a log is about --------------------------------------------


def _names_told(names: Names) -> None:
    for row in names.folder.of("units"):
        cells = Cells(row, names.faults, names.today)
        substance, _oil = cells.substance()
        least, most = cells.quantity("charge_min"), cells.quantity("charge_max")
        if not cells.whole:
            continue
        unit = names.unit(cells, substance, least, most)
        if unit is None:
            continue
        try:
            _unit_told(unit, row)
        except Refused as refused:
            cells.fault(refused.field if refused.field in row.cells else "unit", refused.message)


def _unit_told(unit, row) -> None:
    said: dict[str, object] = {name: row[name] for name in ("make", "model") if row[name]}
    if row["year"]:
        if not (row["year"].isascii() and row["year"].isdigit()) or len(row["year"]) > 4:
            raise Refused(f"{row['year'][:20]!r} is no year; write e.g. 2019.", "year")
        said["year"] = int(row["year"])
    changed = {name: value for name, value in said.items() if getattr(unit, name) != value}
    if changed:
        change_unit(unit, by=None, **changed)
    customer = unit.customer
    if customer is None:
        return
    phone, address = row["phone"] or customer.phone, row["address"] or customer.address
    if (phone, address) != (customer.phone, customer.address):
        change_customer(customer, by=None, name=customer.name, phone=phone, address=address, note=customer.note)


# -- mappings ---------------------------------------------------------------------------------------


def save_mapping(name: str, plan: Plan, by: Person) -> SheetMapping:
    """Keep how a sheet was understood, under a name; one of that name is said anew. Raises Refused."""
    name = " ".join(name.split())
    if not name:
        raise Refused("Give it a name, such as the supplier's list or Friday's count.", "name")
    if len(name) > 80:
        raise Refused(f"The name has {len(name)} characters; 80 are the most.", "name")
    with transaction.atomic():
        standing = SheetMapping.objects.select_for_update().filter(name=name).first()
        if standing and standing.kind != plan.kind:
            raise Refused(f"{name} is a mapping of {standing.get_kind_display()}; choose another name.", "name")
        lasting = {q.id: q.given for q in plan.asking.asked.values() if q.lasting and q.given is not None}
        said = {"kind": plan.kind, "heads": plan.signature(), "answers": lasting, "by": by.username}
        return SheetMapping.objects.update_or_create(name=name, defaults=said)[0]
