"""Lists of vouchers: of what came in, of what went out, of all; their columns, filters and totals."""

from collections.abc import Sequence

import django_filters as filters
import django_tables2 as tables
from django.db.models import QuerySet, Sum
from django.http import FileResponse, HttpRequest
from django.utils.html import format_html

from inventory.ledger.accounts import PARTIES, AccountClass
from inventory.ledger.models import Account, Movement, Voucher
from inventory.parties.models import Party
from inventory.shop.forms import DayInput
from inventory.shop.lists import export, paged, said

WORDS = {cls.value: cls.word for cls in AccountClass}
NUMBER = {"td": {"class": "number"}, "th": {"class": "number"}}
PER_PAGE = 50
NOTE = 60  # characters of a note that a list shows


class VoucherTable(tables.Table):
    number = tables.Column("Voucher", linkify=("voucher", [tables.A("number")]), attrs=NUMBER)
    day = tables.Column(order_by=("day", "number"))
    kind = tables.Column(order_by=("kind", "number"))
    document = tables.Column(order_by=("document", "number"))
    done_by = tables.Column("Done by", empty_values=(), order_by=("done_by", "number"))
    note = tables.Column(orderable=False)

    plain = {
        "number": lambda voucher: voucher.number,
        "day": lambda voucher: voucher.day,
        "kind": lambda voucher: f"{voucher.kind}, taken back" if is_taken_back(voucher) else voucher.kind,
        "document": lambda voucher: said(voucher.document),
        "done_by": lambda voucher: voucher.done_by or voucher.recorded_by,
        "note": lambda voucher: said(voucher.note),
    }

    class Meta:
        model = Voucher
        fields = ("number", "day", "kind", "document", "done_by", "note")
        empty_text = "No voucher is found."
        order_by = "-number"

    def render_kind(self, record: Voucher) -> str:
        if not is_taken_back(record):
            return record.kind
        return format_html('{} <span class="badge idle">taken back</span>', record.kind)

    def render_done_by(self, record: Voucher) -> str:
        return record.done_by or record.recorded_by

    def render_note(self, value: str) -> str:
        return value if len(value) <= NOTE else f"{value[: NOTE - 1]}…"


def is_taken_back(voucher: Voucher) -> bool:
    """Needs `reversed_by` loaded."""
    return getattr(voucher, "reversed_by", None) is not None


class PartnerFilter(filters.FilterSet):
    """Of vouchers whose goods came from somebody, or went to somebody."""

    document = filters.CharFilter(label="Document", lookup_expr="icontains")
    party = filters.ModelChoiceFilter(
        queryset=Party.objects.order_by("name"), label="From or to", empty_label="anybody", method="of_party"
    )
    since = filters.DateFilter(field_name="day", lookup_expr="gte", label="From day", widget=DayInput)
    until = filters.DateFilter(field_name="day", lookup_expr="lte", label="To day", widget=DayInput)
    kind = filters.ChoiceFilter(label="Kind", empty_label="all")

    class Meta:
        model = Voucher
        fields: list[str] = []

    def __init__(self, *args, kinds: Sequence[str], **kwargs):
        super().__init__(*args, **kwargs)
        if len(kinds) > 1:
            self.filters["kind"].extra["choices"] = [(kind, kind) for kind in kinds]
        else:
            del self.filters["kind"]

    def of_party(self, vouchers: QuerySet[Voucher], _name: str, value: Party) -> QuerySet[Voucher]:
        accounts = Account.objects.filter(cls__in=PARTIES, name=value.code)
        moved = Movement.objects.filter(source__in=accounts) | Movement.objects.filter(target__in=accounts)
        return vouchers.filter(number__in=moved.order_by().values("voucher_id"))


def listed_vouchers(request: HttpRequest, kinds: Sequence[str], name: str) -> FileResponse | dict[str, object]:
    """What the page of a list of such vouchers says, or the file that its address asks for. name: of the list."""
    every = Voucher.objects.filter(kind__in=kinds).select_related("reversed_by")
    listed = PartnerFilter(request.GET, queryset=every, kinds=kinds)
    rows = listed.qs if listed.is_valid() else every
    answer = export(request, VoucherTable(rows), name)
    if answer is not None:
        return answer
    narrowed = listed.is_valid() and listed.form.has_changed()
    totals = movement_totals(rows.filter(reversed_by=None)) if narrowed else []
    return {"table": paged(request, VoucherTable(rows), PER_PAGE, name), "filter": listed, "totals": totals}


def movement_totals(vouchers: QuerySet[Voucher]) -> list[dict[str, object]]:
    """What vouchers move in all, by substance and by the kinds of its two ends, mg or uL; summed by the database. What
    only goes from container to container is left out."""
    inside = AccountClass.CONTAINER.value
    moved = Movement.objects.filter(voucher__in=vouchers.order_by().values("number"))
    moved = moved.exclude(source_class=inside, target_class=inside).order_by()
    rows = moved.values("substance__code", "substance__is_oil", "source_class", "target_class")
    rows = rows.annotate(quantity=Sum("quantity")).order_by("substance__is_oil", "substance__code", "source_class")
    return [
        {
            "code": row["substance__code"],
            "is_oil": row["substance__is_oil"],
            "source": WORDS[row["source_class"]],
            "target": WORDS[row["target_class"]],
            "quantity": int(row["quantity"]),
        }
        for row in rows
    ]
