"""What happened to containers, as rows of a log: of the entries that stand, each with all that its file can say."""

from collections.abc import Callable, Iterator

from inventory.containers.events import Op
from inventory.containers.models import Container
from inventory.correcting.again import Said
from inventory.measures.money import plain_money
from inventory.measures.pressure import show_pressure
from inventory.measures.quantity import exact
from inventory.parties.models import Party
from inventory.releases.causes import CAUSES
from inventory.releases.queries import released_by
from inventory.shipping.again import WORD as PURPOSE_OF
from inventory.shop.models import Shop
from shopledger.exporting.moments import Moments

Row = tuple[str, dict[str, str]]  # its file, its cells


class Stock:
    """Writes the rows of an act. moments: of all."""

    def __init__(self, moments: Moments):
        self.moments = moments
        self.currency = Shop.current().currency
        self.parties = dict(Party.objects.values_list("code", "name"))
        self.containers = Container.objects.in_bulk(field_name="code")

    def of(self, act: Said) -> Iterator[Row]:
        yield from KINDS[act.voucher.kind](self, act)

    # -- what all rows say ---------------------------------------------------------------------------

    def at(self, act: Said, op: Op) -> str:
        return self.moments.of(act.voucher.number, op.at or act.event.at)

    def said(self, act: Said, op: Op) -> dict[str, str]:
        voucher = act.voucher
        more = {"by": voucher.done_by, "document": voucher.document, "note": voucher.note}
        return {"date": self.at(act, op), "container": op.code, **more}

    def much(self, code: str, quantity: int | None) -> str:
        if quantity is None:
            return ""
        return exact(quantity, "mL" if self.containers[code].is_oil else "g")

    # -- coming in -----------------------------------------------------------------------------------

    def arrivals(self, act: Said) -> Iterator[Row]:
        voucher, file = act.voucher, "opening.csv" if act.voucher.kind == "opening" else "receipts.csv"
        besides = act.detail.get("arrivals", {})
        for op in act.ops("arrive"):
            one, said = self.containers[op.code], besides.get(op.code, {})
            price = said.get("price_minor", one.price_minor)
            cells = {
                "date": act.event.on.isoformat(),
                "document": voucher.document,
                "note": voucher.note,
                "entry": str(voucher.number),
                "received_by": voucher.done_by,
                "container": op.code,
                "kind": op.kind,
                "substance": op.substance,
                "grade": op.grade,
                "net": exact(op.quantity, "mL" if op.is_oil else "g") if op.quantity else "",
                "tare": "" if op.tare is None else exact(op.tare, "g"),
                "location": op.location,
                **self._marks(one),
            }
            if file == "receipts.csv":
                cells["supplier"] = self.parties.get(op.name, op.name)
                cells["price"] = "" if price is None else plain_money(int(price), self.currency)
            yield file, cells

    def _marks(self, one: Container) -> dict[str, str]:
        deposit = one.deposit_minor
        return {
            "water_capacity": exact(one.water_capacity_mg, "g") if one.water_capacity_mg else "",
            "retest_due": one.retest_due.isoformat() if one.retest_due else "",
            "supplier_number": one.supplier_number,
            "test_pressure": show_pressure(one.test_pressure_kpa) if one.test_pressure_kpa else "",
            "stamped_most": exact(one.stamped_most_mg, "g") if one.stamped_most_mg is not None else "",
            "deposit": "" if deposit is None else plain_money(deposit, self.currency),
            "label_says": one.label_says,
            "batch": one.batch,
            "facility": one.facility,
            "label_statement": "yes" if one.label_statement else "",
        }

    def apart(self, act: Said) -> Iterator[Row]:
        """Gas of customers, and what was found: one row an act."""
        voucher, verb = act.voucher, ACT_OF[act.voucher.kind]
        first = act.event.ops[0]
        customer = act.detail.get("customer", "")
        cells = {
            "act": verb,
            "container": first.code,
            "by": voucher.done_by,
            "note": voucher.note,
            "customer": customer,
        }
        cells["date"] = act.event.on.isoformat() if verb in {"taken in", "found"} else self.at(act, first)
        for op in act.ops("arrive"):
            cells |= {"kind": op.kind, "substance": op.substance, "grade": op.grade, "location": op.location}
            cells["tare"] = "" if op.tare is None else exact(op.tare, "g")
            cells |= {name: self._marks(self.containers[op.code])[name] for name in ("water_capacity", "retest_due")}
        for op in act.ops("count", "found"):
            cells |= {"gross": exact(op.gross, "g"), "scale": op.scale}
        for op in act.ops("identify"):
            cells |= {"substance": op.substance, "grade": op.grade, "tare": exact(op.tare, "g"), "scale": op.scale}
            cells["gross"] = "" if op.gross is None else exact(op.gross, "g")
            cells |= {name: str(act.detail.get(name, "")) for name in ("identified_by", "purity_percent", "tare_was")}
        for op in act.ops("keep"):
            cells["customer"] = op.owner if verb == "set apart" else customer
        cells["stays"] = "yes" if verb == "given back" and act.ops("keep") else ""
        yield "apart.csv", cells

    # -- what is done to them ------------------------------------------------------------------------

    def moves(self, act: Said) -> Iterator[Row]:
        for op in act.ops("stand"):
            yield "moves.csv", {**self.said(act, op), "to_location": op.location}

    def decants(self, act: Said) -> Iterator[Row]:
        for op in act.ops("draw"):
            said = self.said(act, op)
            said["from"] = said.pop("container")
            yield "decants.csv", {**said, "to": op.others[0], **self.weights(op)}

    def weights(self, op: Op) -> dict[str, str]:
        given = {name: self.much(op.code, getattr(op, name)) for name in ("before", "after", "quantity")}
        return {**given, "scale": op.scale}

    def regrades(self, act: Said) -> Iterator[Row]:
        more = {name: str(act.detail.get(name, "")) for name in ("machine", "standard")}
        for op in act.ops("regrade"):
            yield "regrades.csv", {**self.said(act, op), "grade": op.grade, **more}

    def counts(self, act: Said) -> Iterator[Row]:
        for op in act.ops("count"):
            yield "counts.csv", {**self.said(act, op), "scale": op.scale, "gross": self.much(op.code, op.gross)}

    def tares(self, act: Said) -> Iterator[Row]:
        for op in act.ops("tare"):
            yield "tares.csv", {**self.said(act, op), "tare": exact(op.tare, "g")}

    # -- leaving -------------------------------------------------------------------------------------

    def shipments(self, act: Said) -> Iterator[Row]:
        goes = {op.code for op in act.ops("retire")}
        sale = act.detail.get("sale", {})
        more = {f"sale_{name}": str(sale.get(name, "")) for name in ("end", "equipment", "use")}
        more["sale_seen"] = " ".join(sale.get("seen", ()))
        first = act.event.ops[0]
        for op in act.ops("leave"):
            yield (
                "shipments.csv",
                {
                    **self.said(act, op),
                    "date": self.at(act, first),
                    "entry": str(act.voucher.number),
                    "party": self.parties.get(op.name, op.name),
                    "purpose": PURPOSE_OF[op.cls],
                    "quantity": self.much(op.code, op.quantity),
                    "goes": "yes" if op.code in goes else "",
                    **more,
                },
            )

    def losses(self, act: Said) -> Iterator[Row]:
        cause = CAUSES[act.detail["cause"]]
        weighed = {op.code: op for op in act.ops("count")}
        for op in act.ops("draw", "leave"):
            cells = {**self.said(act, op), "cause": cause}
            if op.verb == "draw":
                yield "losses.csv", {**cells, **self.weights(op)}
                continue
            cells["quantity"] = self.much(op.code, op.quantity)
            if op.quantity is None and released_by(act.voucher).quantity == 0:
                cells["quantity"] = self.much(op.code, 0)  # all that was in it, which is nothing by now
            if op.code in weighed:
                after = weighed[op.code]
                cells |= {"after": exact(after.gross, "g"), "scale": after.scale}
            yield "losses.csv", cells

    def retirements(self, act: Said) -> Iterator[Row]:
        taker = act.detail.get("taken_by", "")
        proof = {"taken_by": self.parties.get(taker, taker), "statement": "yes" if act.detail.get("statement") else ""}
        for op in act.ops("retire"):
            yield "retirements.csv", {**self.said(act, op), "residue": op.into or "lost", **proof}


ACT_OF = {
    "taking-in": "taken in",
    "found": "found",
    "setting-apart": "set apart",
    "giving-back": "given back",
    "identification": "identified",
}
KINDS: dict[str, Callable[[Stock, Said], Iterator[Row]]] = {
    "opening": Stock.arrivals,
    "receipt": Stock.arrivals,
    **dict.fromkeys(ACT_OF, Stock.apart),
    "move": Stock.moves,
    "decant": Stock.decants,
    "regrade": Stock.regrades,
    "count": Stock.counts,
    "tare": Stock.tares,
    "shipment": Stock.shipments,
    "release": Stock.losses,
    "retirement": Stock.retirements,
}
