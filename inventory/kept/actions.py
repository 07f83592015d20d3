"""The verbs of gas that is kept apart: a customer's own, which never is the shop's, and what was found, of which nobody
knows yet what it is. Each one voucher, or nothing.

head: as in `containers/actions.py`. Masses in mg. Customers are named by their codes.
"""

import datetime as dt
from dataclasses import dataclass

from inventory.containers.actions import record
from inventory.containers.placing import EntryHead
from inventory.containers.recorder import Recorder
from inventory.ledger.accounts import AccountClass
from inventory.measures.days import FIRST_MADE
from inventory.measures.quantity import show
from inventory.receiving.actions import Arrival, codes_for, fits_in
from inventory.reference.gas_rules import PURITY_LEAST_PERCENT
from inventory.reference.substances import UnknownSubstance, substance
from inventory.shop.days import may_be_due
from inventory.shop.models import Shop
from inventory.text.clean import clean
from inventory.text.refusal import Refused

MIXED = "mixed"


@dataclass(frozen=True)
class Brought:
    """A cylinder that a customer brings. gross_mg: as it came; with the tare it says how much is in it."""

    kind: str
    substance: str
    grade: str
    tare_mg: int
    gross_mg: int
    location: str
    code: str = ""
    scale: str = ""
    water_capacity_mg: int | None = None
    retest_due: dt.date | None = None

    def arrival(self) -> Arrival:
        net = self.gross_mg - self.tare_mg
        if net < 0:
            raise Refused(
                f"With {show(self.gross_mg, 'g')} in all it cannot weigh {show(self.tare_mg, 'g')} empty. Check both "
                "figures.",
                "gross",
            )
        code, is_oil = _known(self.substance)
        if is_oil:
            raise Refused("Only refrigerant is kept for customers; leave their oil out of the book.", "substance")
        return Arrival(
            self.kind,
            code,
            False,
            self.grade,
            net,
            1,
            self.location,
            self.code,
            self.tare_mg,
            self.water_capacity_mg,
            self.retest_due,
        )


def take_in(*, owner: str, brought: Brought, **head: object) -> int:
    """A customer's own cylinder, with what is in it; it is bought by nobody and has no price."""
    if not owner:
        raise Refused("Say whose cylinder it is.", "customer")
    line = brought.arrival()

    def run(recorder: Recorder) -> dict:
        code = codes_for(line)[0]
        fits_in(line)
        may_be_due(line.retest_due, "retest_due", first=FIRST_MADE)
        recorder.load([code])
        recorder.holdings.arrive(line.state(code), line.net, AccountClass.CUSTOMER, owner)
        recorder.holdings.count(code, brought.gross_mg, recorder.scale(brought.scale))
        besides = {"water_capacity_mg": line.water_capacity_mg, "retest_due": line.retest_due}
        return {"besides": {code: besides}, "detail": {"customer": owner}}

    return record(EntryHead("taking-in", **head), run, ())


def keep_for(*, code: str, owner: str, **head: object) -> int:
    """An empty refillable container takes the gas of one customer alone from now on; owner blank: it is the shop's
    again."""

    def run(recorder: Recorder) -> dict:
        was = recorder.holdings.containers.get(code)
        whose = owner or (was.owner if was else "")
        recorder.holdings.keep_for(code, owner)
        return {"detail": {"customer": whose, **({} if owner else {"ended": True})}}

    return record(EntryHead("setting-apart", **head), run, [code])


def give_back(*, code: str, stays: bool = False, owner: str = "", **head: object) -> int:
    """What is kept for a customer goes back to them with its cylinder. stays: the gas alone goes back, and the
    container is the shop's again. owner: who was meant, where a page named them."""

    def run(recorder: Recorder) -> dict:
        was = recorder.holdings.containers.get(code)
        whose = was.owner if was else ""
        if owner and whose and whose != owner:
            raise Refused(f"{code} is kept for {whose} by now, not for {owner}; open its page again.", "container")
        recorder.holdings.give_back(code, stays)
        return {"detail": {"customer": whose}}

    return record(EntryHead("giving-back", **head), run, [code])


def find(
    *, kind: str, gross_mg: int, location: str, found_where: str, code: str = "", scale: str = "", **head: object
) -> tuple[int, str]:
    """A cylinder that was found or has no label, weighed as it is: it is held, and the book holds nothing of it, until
    somebody says what is in it. found_where: and what is known of it. Returns the voucher's number and the cylinder's
    code; blank where the same form was recorded before."""
    said = clean(found_where, "found_where")
    if not said:
        raise Refused("Say where it was found, and what is known of it.", "found_where")
    if gross_mg <= 0:
        raise Refused("A weight is more than nothing; type what the scale shows.", "gross")
    line = Arrival(kind, "", False, "", 0, 1, location, code)
    given: list[str] = []

    def run(recorder: Recorder) -> dict:
        given.extend(codes_for(line))
        recorder.load(given)
        recorder.holdings.find(line.state(given[0]), gross_mg, recorder.scale(scale))
        return {"besides": {given[0]: {}}, "detail": {"gross_mg": gross_mg}}

    number = record(EntryHead("found", note=said, **head), run, ())
    return number, next(iter(given), "")


@dataclass(frozen=True)
class Identified:
    """What an identifier said of a cylinder that was found. mixed: it is no one refrigerant; then substance is the one
    that it is taken for. purity: percent as typed, blank where it said none. by: with what it was identified. how: the
    tare was found: stamped, or weighed empty. gross_mg: where it was weighed again; None: it weighs what it did."""

    substance: str
    tare_mg: int
    by: str
    grade: str = "recovered"
    purity: str = ""
    how: str = "stamped"
    gross_mg: int | None = None
    scale: str = ""


def identify(*, code: str, said: Identified, **head: object) -> int:
    """Now it is known: the grams enter the book as found, and the hold ends. What is mixed can only be sent away."""
    found, is_oil = _known(said.substance)
    if is_oil:
        raise Refused(f"{found} is an oil; an identifier names a refrigerant.", "substance")
    if not clean(said.by, "identified_by"):
        raise Refused("Say with what it was identified, or by whose word.", "identified_by")

    head_of = EntryHead("identification", **head)
    _pure_enough(said, head_of.day)

    def run(recorder: Recorder) -> dict:
        weighed = None if said.gross_mg is None else (said.gross_mg, recorder.scale(said.scale))
        recorder.holdings.identify(code, found, said.grade, said.tare_mg, weighed)
        more = {"identified_by": said.by, "purity_percent": said.purity, "tare_was": said.how}
        return {"detail": {name: value for name, value in more.items() if value}}

    return record(head_of, run, [code])


def _pure_enough(said: Identified, day: dt.date) -> None:
    """Refuse what is too little of one refrigerant to be kept as that."""
    found = Shop.current().rules.practice("purity_least_percent", day)
    least = float(found.value) if found else PURITY_LEAST_PERCENT
    if said.purity and said.grade != MIXED and float(said.purity) < least:
        raise Refused(
            f"Its purity is {said.purity} %, under {least:g} %: that is a mixture. Grade it mixed, and send it away.",
            "grade",
        )


def _known(typed: str) -> tuple[str, bool]:
    """A refrigerant or oil by its designation, and whether it is an oil. Raises Refused."""
    if not typed.strip():
        raise Refused("Name the refrigerant, e.g. R-134a.", "substance")
    try:
        return substance(typed)
    except UnknownSubstance as unknown:
        raise Refused(str(unknown), "substance") from None
