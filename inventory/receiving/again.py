"""Deliveries and opening stock, said again: all their lines, each of which may be changed, taken off or added."""

from collections.abc import Sequence

from inventory.containers.forms import locations, substances
from inventory.correcting.again import Again, Said, lines_of
from inventory.orders.queries import order_of
from inventory.parties.actions import supplier_called
from inventory.parties.models import Party
from inventory.receiving.actions import open_stock, receive
from inventory.receiving.forms import DeliveryForm, JudgedLinesAgain, LineForm, OpeningForm, arrival_of, refuse_line
from inventory.receiving.said_lines import lines_of_voucher
from inventory.text.refusal import Refused


class Opened(Again):
    """What the shop held before its ledger began."""

    form_class = OpeningForm
    rows_class = lines_of(LineForm, formset=JudgedLinesAgain)

    def __init__(self, said: Said, person, data=None):
        super().__init__(said, person, data)
        self.rows.book.corrects = said.voucher.number

    def initial(self) -> dict[str, object]:
        return {"note": self.said.voucher.note}

    def lists(self) -> dict[str, Sequence[str]]:
        return {"substances": substances(), "locations": locations()}

    def lines(self) -> list[dict[str, object]]:
        return lines_of_voucher(self.said.detail, self.person)

    def say(self, data: dict, head: dict) -> int:
        return open_stock(lines=self._arrivals(), **head)

    def _arrivals(self) -> list:
        return [arrival_of(row.cleaned_data) for row in self.standing_rows()]

    def refuse(self, refused: Refused) -> None:
        refuse_line(self.form, self.rows, list(self.standing_rows()), refused)


class Received(Opened):
    """A delivery."""

    form_class = DeliveryForm

    def initial(self) -> dict[str, object]:
        voucher = self.said.voucher
        code = self.said.detail.get("supplier") or self.said.ops("arrive")[0].name
        supplier = Party.objects.filter(code=code).values_list("name", flat=True).first() or ""
        return {"supplier": supplier, "document": voucher.document, "note": voucher.note}

    def lists(self) -> dict[str, Sequence[str]]:
        suppliers = Party.objects.filter(role="supplier").values_list("name", flat=True)
        return {**super().lists(), "suppliers": list(suppliers)}

    def say(self, data: dict, head: dict) -> int:
        supplier = supplier_called(data["supplier"], data["supplier_address"])
        order = order_of(self.said.voucher.number)
        order = order if order is not None and order.supplier_id == supplier.pk else None
        return receive(lines=self._arrivals(), supplier=supplier, again=data["again"], order=order, **head)
