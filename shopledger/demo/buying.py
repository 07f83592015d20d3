"""What the demonstration shop orders, what it is billed, and a deposit that comes back. Its keys are its own, so that
the story's dice fall as they would without it."""

import datetime as dt
import uuid

from inventory.buying.actions import Billed, InvoiceSaid, enter_invoice
from inventory.buying.billing import groups_of
from inventory.buying.models import Invoice
from inventory.ledger.models import Voucher
from inventory.orders.actions import OrderHead, Wanted, order_sent, place_order, was_for
from inventory.orders.models import Order
from inventory.parties.actions import supplier_called
from inventory.receiving.actions import Arrival, receive
from inventory.shipping.actions import ship
from shopledger.demo.calendar import Calendar
from shopledger.demo.cast import GASES, PARTS
from shopledger.demo.stock import ML, NET, G

DEPOSIT = 6_000
CYLINDER = "CYL-0021"


class Buying:
    """Told before each visit, after what the office did."""

    def __init__(self, calendar: Calendar):
        self.calendar = calendar

    def before_visit(self, number: int) -> None:
        day = self.calendar.day(number - 0.5)
        if number == 3:
            self.order("B-501", GASES, self.can("R-1234yf", 12, 5400, self.calendar.day(5.5)), day)
        if number == 7:
            self.came("B-501", "MB-1016")
            self.invoice("RG-6016", "MB-1016", day, prices={"can": 5400}, shipping=1_800, tax=6_660)
        if number == 17:
            self.order("B-502", GASES, self.can("R-134a", 24, 1180, self.calendar.day(22.5)), day)
        if number == 21:
            self.came("B-502", "MB-1030")
            self.invoice("RG-6030", "MB-1030", day, prices={"can": 1210}, off=50)
        if number == 52:
            self.cylinder(day)
        if number == 60:
            self.back(day)
        if number == 62:
            oil = Wanted("oil", "PAG 46", True, "", 250 * ML, 6, 1450, self.calendar.today + dt.timedelta(5))
            self.order("B-503", PARTS, oil, day, sent=False)

    def can(self, gas: str, count: int, price: int, expected: dt.date) -> Wanted:
        return Wanted("can", gas, False, "virgin", NET[gas], count, price, expected)

    def order(self, number: str, supplier: str, line: Wanted, day: dt.date, sent: bool = True) -> None:
        said = {"supplier": supplier_called(supplier), "head": OrderHead(day, number)}
        order = place_order(lines=[line], by="otto", key=key(number), **said)
        if sent:
            order_sent(code=order.code, on=day)

    def came(self, order: str, document: str) -> None:
        was_for(order=Order.objects.get(number=order), number=delivery(document).number)

    def invoice(self, number: str, document: str, day: dt.date, prices: dict[str, int], **more: int) -> None:
        """Of one delivery. prices: by kind of container. more: shipping and tax; off: by how much its total differs."""
        lines = []
        for group in groups_of([delivery(document)]):
            what = {"sort": group.sort, "is_oil": group.is_oil, "codes": tuple(group.codes)}
            lines.append(Billed("goods", len(group.codes), prices[group.sort.kind], **what))
            if group.deposit_minor:
                lines.append(Billed("deposit", len(group.codes), group.deposit_minor, **what))
        shipping, tax, off = (more.get(name, 0) for name in ("shipping", "tax", "off"))
        total = sum(line.count * line.price_minor for line in lines) + shipping + tax + off
        said = InvoiceSaid(supplier_called(GASES), "invoice", number, day, lines, total, shipping, tax, sure=bool(off))
        enter_invoice(said=said, by="otto", key=key(number))

    def cylinder(self, day: dt.date) -> None:
        """A cylinder with a deposit, ordered by mistake."""
        what = ("refillable", "R-404A", False, "virgin", 5_000 * G, 1, "Store", CYLINDER, 5_900 * G, 13_500 * G)
        line = Arrival(*what, price_minor=18_000, deposit_minor=DEPOSIT)
        said = {"document": "MB-1062", "day": day, "by": "otto", "key": str(key("MB-1062"))}
        receive(lines=[line], supplier=supplier_called(GASES), **said)
        self.invoice("RG-6062", "MB-1062", day, prices={"refillable": 18_000})

    def back(self, day: dt.date) -> None:
        supplier = supplier_called(GASES)
        said = {"document": "SL-310", "day": day, "by": "otto", "key": str(key("SL-310"))}
        sent = ship(parcels={CYLINDER: None}, purpose="return", party=supplier, containers_go=True, **said)
        (group,) = groups_of([delivery("MB-1062")])
        what = {"sort": group.sort, "codes": (CYLINDER,)}
        lines = [Billed("goods", 1, 18_000, **what), Billed("deposit", 1, DEPOSIT, **what)]
        of = {"shipment": sent, "credits": Invoice.objects.get(number="RG-6062")}
        paper = InvoiceSaid(supplier, "credit", "GS-77", day, lines, 18_000 + DEPOSIT, **of)
        enter_invoice(said=paper, by="otto", key=key("GS-77"))


def delivery(document: str) -> Voucher:
    return Voucher.objects.standing().get(kind="receipt", document=document)


def key(of: str) -> uuid.UUID:
    return uuid.uuid5(uuid.NAMESPACE_URL, f"demonstration {of}")
