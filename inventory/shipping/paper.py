"""The shipping paper: what travels as which dangerous good, from whom, to whom. A help for filling in the transport
document, which says of each entry where it stands and how well it is known."""

import datetime as dt
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, Spacer

from inventory.measures.quantity import show
from inventory.paper.document import MARGIN, build, entries_table, facts_table, text
from inventory.paper.foot import Origin, foot
from inventory.reference.transport import SMALL_LOAD_TOTAL, Entry, small_load_points
from inventory.shipping.parcels import Parcel
from inventory.shop.models import Shop

WIDTH = A4[0] - 2 * MARGIN
TITLE = "Shipping paper"

ABOUT = (
    "Worked from ADR/RID 2025, chapter 3.2, and 49 CFR 172.101, as a help for filling in the transport document. "
    "Who consigns answers for classification, packaging, marks and papers. What is marked as to be confirmed was not "
    "read in the text itself: ask the supplier's safety data sheet, or the authority."
)

ABOUT_EMPTY = "Empty, uncleaned: ADR 5.4.1.1.6; 49 CFR 173.29 (from memory, to be confirmed). Labels stay on."

# What to do if something goes wrong, by the label: common knowledge of the safety data sheets, no source.
HAZARDS = {
    "2.1": "Flammable gas: keep ignition away; stop a leak only where that is safe; cool cylinders from a distance.",
    "2.2": "Gas under pressure: it may burst when heated, and takes the place of air in closed spaces. Air the load.",
    "2.3": "Poisonous gas: stay upwind, keep people away, call the fire brigade.",
    "8": "Corrosive: keep it off skin and eyes; rinse with plenty of water.",
    "3": "Flammable liquid: keep ignition away, and its vapours out of drains.",
}
IN_ALL = (
    "Keep cylinders upright, valves shut and capped, and secured against falling. In an emergency call the number of "
    "your country (112, 911)."
)


@dataclass(frozen=True)
class Consignment:
    """What a paper is made of. consignee: name and address, blank lines where not known. number: of the shop's own
    document or voucher."""

    parcels: Sequence[Parcel]
    consignee: str
    consignee_address: str
    day: dt.date
    number: str


def shipping_paper(consignment: Consignment, origin: Origin) -> bytes:
    """The PDF."""
    shop = Shop.current()
    dangerous = [one for one in consignment.parcels if one.is_dangerous]
    others = [one for one in consignment.parcels if not one.is_dangerous]
    story: list[Flowable] = [text(TITLE, "title"), *_parties(consignment, shop)]
    if dangerous:
        story += [text("Dangerous goods", "heading"), _goods(dangerous), *_totals(dangerous)]
    if others:
        story += [text("Not dangerous goods of class 2, by what is known here", "heading"), _others(others)]
    story += _waste(consignment.parcels)
    if dangerous:
        story.append(_emergency(dangerous))
    story.append(_signature())
    if dangerous:
        story += _sources(dangerous)
    out = io.BytesIO()
    build(out, story, foot(f"{TITLE} {consignment.number}".strip(), origin, place="leaving"))
    return out.getvalue()


def _parties(consignment: Consignment, shop: Shop) -> list[Flowable]:
    consignor = "\n".join(filter(None, [shop.name, shop.address]))
    consignee = "\n".join(filter(None, [consignment.consignee, consignment.consignee_address]))
    pairs = [
        ("Consignor", consignor),
        ("Consignee", consignee or "to be filled in:"),
        ("Day", consignment.day.isoformat()),
        ("Number", consignment.number or "–"),
        ("Packages", str(len(consignment.parcels))),
        ("Carrier", "to be filled in:"),
    ]
    return [facts_table(pairs, WIDTH, label_share=0.2), Spacer(0, 2 * mm)]


def _kg(milligrams: int) -> str:
    return show(milligrams, "kg").removesuffix(" kg")


def _goods(parcels: Iterable[Parcel]) -> Flowable:
    header = ["Container", "Kind of package", "UN number, name, labels, (tunnel code)", "Code", "Net, kg", "Gross, kg"]
    rows = [
        [
            one.code,
            one.package,
            one.travels_as + (" (to be confirmed)" if one.entry.to_be_confirmed else ""),
            one.entry.code,
            "empty" if one.is_empty else _kg(one.quantity),
            "–" if one.tare_mg is None else _kg(one.tare_mg + one.quantity),
        ]
        for one in parcels
    ]
    widths = [22 * mm, 30 * mm, WIDTH - 104 * mm, 14 * mm, 18 * mm, 20 * mm]
    return entries_table(header, rows, widths, [False, False, False, False, True, True])


def _totals(parcels: Sequence[Parcel]) -> list[Flowable]:
    """One line for each entry, as a transport document states it."""
    groups: dict[tuple[str, str], list[Parcel]] = {}
    for one in parcels:
        groups.setdefault((one.travels_as, one.package), []).append(one)
    rows = [
        [said, f"{len(found)} × {package}", _kg(sum(one.quantity for one in found))]
        for (said, package), found in sorted(groups.items())
    ]
    table = entries_table(
        ["In all", "Packages", "Net, kg"], rows, [WIDTH - 68 * mm, 48 * mm, 20 * mm], [False, False, True]
    )
    points = small_load_points((one.entry, one.quantity) for one in parcels)
    if points is None:
        load = "Points of ADR 1.1.3.6: not known, since the transport category of an entry is not."
    else:
        under = "at most" if points <= SMALL_LOAD_TOTAL else "more than"
        load = (
            f"Points of ADR 1.1.3.6: {points}, {under} {SMALL_LOAD_TOTAL:,} (to be confirmed; for loads on the road "
            "where ADR applies: up to 1,000 points fewer duties bind). Empty receptacles count nothing."
        )
    return [Spacer(0, 2 * mm), table, text(load, "small")]


def _others(parcels: Iterable[Parcel]) -> Flowable:
    rows = [
        [one.code, one.package, one.substance or "–", one.travels_as, show(one.quantity, "mL" if one.is_oil else "kg")]
        for one in parcels
    ]
    header = ["Container", "Kind of package", "Content", "It is", "Net"]
    widths = [22 * mm, 34 * mm, 30 * mm, WIDTH - 108 * mm, 22 * mm]
    return entries_table(header, rows, widths, [False, False, False, False, True])


def _waste(parcels: Iterable[Parcel]) -> list[Flowable]:
    codes = {(one.waste.code, one.waste.words, str(one.waste.source)) for one in parcels if one.waste is not None}
    if not codes:
        return []
    said = [text(f"{code}: {words}. {where}", "small") for code, words, where in sorted(codes)]
    return [text("As waste, where the European List of Waste applies", "heading"), *said]


def hazards(entries: Iterable[Entry]) -> list[str]:
    """What the labels of some entries warn of, each once."""
    labels = {label.strip() for one in entries for label in one.labels.split("+")}
    return [HAZARDS[label] for label in sorted(labels) if label in HAZARDS]


def _emergency(parcels: Iterable[Parcel]) -> Flowable:
    said = [text(sentence) for sentence in [*hazards(one.entry for one in parcels), IN_ALL]]
    phone = text(
        "Emergency telephone, watched while it travels (49 CFR 172.604, to be confirmed): ____________________"
    )
    return KeepTogether([text("In an emergency", "heading"), *said, Spacer(0, 1.5 * mm), phone])


def _sources(parcels: Iterable[Parcel]) -> list[Flowable]:
    """Where each entry stands, how well it is known and when it was read."""
    told = {}
    for one in parcels:
        found = one.entry
        division = f"; division {found.us_division} by {found.us_source}" if found.us_division else ""
        told[found.subject] = f"{found.subject}, {found.un_number}: {found.standing}{division}."
    words = [text(told[subject], "small") for subject in sorted(told)]
    if any(one.is_empty for one in parcels):
        words.append(text(ABOUT_EMPTY, "small"))
    return [text("Where that stands", "heading"), text(ABOUT, "small"), *words]


def _signature() -> Flowable:
    line = "Signature of the consignor: ______________________________   Day: ______________"
    return KeepTogether([Spacer(0, 6 * mm), text(line), Spacer(0, 2 * mm)])
