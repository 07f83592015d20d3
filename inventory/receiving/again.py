"""Deliveries and opening stock, said again: all their lines, each of which may be changed, taken off or added."""

import re
from collections.abc import Sequence

from inventory.containers.arrivals import arrivals_of
from inventory.containers.forms import locations, substances
from inventory.containers.models import Container
from inventory.containers.rows import BESIDES, LABEL
from inventory.correcting.again import MANY, Again, lines_of
from inventory.measures.pressure import show_pressure
from inventory.measures.quantity import exact
from inventory.orders.queries import order_of
from inventory.parties.actions import supplier_called
from inventory.parties.models import Party
from inventory.receiving.actions import open_stock, receive
from inventory.receiving.forms import DeliveryForm, LineForm, OpeningForm, PricedLinesAgain, arrival_of, refuse_line
from inventory.text.refusal import Refused

COUNTED = re.compile(r"(.*?)(\d{1,9})")


class Opened(Again):
    """What the shop held before its ledger began."""

    form_class = OpeningForm
    rows_class = lines_of(LineForm, formset=PricedLinesAgain)

    def initial(self) -> dict[str, object]:
        return {"note": self.said.voucher.note}

    def lists(self) -> dict[str, Sequence[str]]:
        return {"substances": substances(), "locations": locations()}

    def lines(self) -> list[dict[str, object]]:
        """Equal containers whose codes count on are one line again. What is kept besides (price, retest, water
        capacity) is as it is known now, since it may have been changed since."""
        said = arrivals_of(self.said.detail)
        rows = Container.objects.in_bulk([one["container"] for one in said], field_name="code")
        found: list[dict[str, object]] = []
        last, ended = None, ""
        for one in said:
            code, row = one["container"], rows[one["container"]]
            equal = {name: value for name, value in one.items() if name != "container" and name not in BESIDES}
            equal |= {name: getattr(row, name) for name in BESIDES if name != "deposit_back_on"}
            number = equal.pop("supplier_number")
            alike = equal == last and found and bool(number) == bool(found[-1]["supplier_number"][-1])
            if alike and code == _next(ended) and found[-1]["count"] < MANY:
                found[-1]["count"] += 1
                found[-1]["supplier_number"].append(number)
            else:
                found.append({**self._line(code, equal), "supplier_number": [number]})
            last, ended = equal, code
        for line in found:
            line["supplier_number"] = ", ".join(filter(None, line["supplier_number"]))
        return found

    def _line(self, code: str, one: dict) -> dict[str, object]:
        unit = self.person.volume_unit if one["is_oil"] else self.person.mass_unit
        return {
            "code": code,
            "count": 1,
            "kind": one["kind"],
            "substance": one["substance"],
            "grade": one["grade"],
            "net": exact(one["quantity"], unit) if one["quantity"] else "",
            "tare": one["tare"],
            "location": one["location"],
            "water_capacity": one["water_capacity_mg"],
            "test_pressure": "" if one["test_pressure_kpa"] is None else show_pressure(one["test_pressure_kpa"]),
            "stamped_most": one["stamped_most_mg"],
            "retest_due": one["retest_due"],
            "price": one["price_minor"],
            "deposit": one["deposit_minor"],
            **{name: one[name] for name in LABEL},
        }

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


def _next(code: str) -> str:
    """The code that counts on from one; blank where it ends in no number."""
    match = COUNTED.fullmatch(code)
    return f"{match[1]}{int(match[2]) + 1:0{len(match[2])}d}" if match else ""
