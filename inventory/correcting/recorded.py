"""How a form that was recorded is told of: the voucher that it became, what that is, and where it is corrected."""

import json
from dataclasses import replace

from django.urls import reverse

from inventory.containers.events import read
from inventory.containers.models import Container
from inventory.correcting.again import Said, elsewhere, way_of
from inventory.correcting.links import Links, links_of, why_not
from inventory.ledger.models import Voucher
from inventory.reference.kinds import KINDS
from inventory.shop.once import Became, page_of

PLAIN = {"receipt", "opening"}  # what came in says it by itself


def told(number: int, person: object) -> Became:
    """What a form became: the voucher of this number, with what this person may do about it."""
    shown = Voucher.objects.select_related("reverses", "reversed_by").get(number=number)
    page = reverse("voucher", args=[number])
    became = Became(f"voucher {number}", in_words(shown), page)
    if shown.kind == "record":
        thing = " ".join(shown.document.split(" ")[:2])
        there = page_of(thing)
        return replace(became, thing_page=there, instead=f"open {_spaced(thing)}", instead_page=there)
    standing = standing_of(shown)
    if shown.first_revision_id:  # it was a correction, and so is what was typed now
        return replace(became, anew=f"post it as a correction of voucher {standing.number}")
    address = correcting(standing, links_of(standing), person)
    return replace(became, instead=f"correct voucher {standing.number}", instead_page=address)


def standing_of(voucher: Voucher) -> Voucher:
    """The voucher that stands in the place of one that was corrected; itself where none does."""
    while (later := links_of(voucher).corrected_by) is not None:
        voucher = Voucher.objects.select_related("reverses", "reversed_by").get(number=later.number)
    return voucher


def correcting(voucher: Voucher, links: Links, person: object) -> str:
    """The address where a voucher is corrected by this person; blank where it is not."""
    said = Said(voucher)
    way = way_of(said)
    if why_not(said, links):
        return ""
    if way is not None and way.may(said, person):
        return reverse("voucher-correct", args=[voucher.number])
    return elsewhere[voucher.kind](voucher, person) if voucher.kind in elsewhere else ""


def in_words(voucher: Voucher) -> str:
    """What a voucher says, in few words: `3 cans of R-134a`, `move: 2 cans`, `customer C-000012`."""
    if voucher.kind == "record":
        return _spaced(voucher.document)
    if voucher.reverses_id:
        return f"it takes back voucher {voucher.reverses_id}"
    detail = json.loads(voucher.detail)
    codes = read(detail["event"]).codes if "event" in detail else set()
    found = _counted(codes, voucher) if codes else ""
    return found if voucher.kind in PLAIN else f"{voucher.kind}: {found}" if found else voucher.kind


def _counted(codes: set[str], voucher: Voucher) -> str:
    kinds = set(Container.objects.filter(code__in=codes).values_list("kind", flat=True))
    label = KINDS[kinds.pop()].label.split(" (")[0].split(" or ")[0] if len(kinds) == 1 else "container"
    substances = sorted(set(voucher.movements.values_list("substance__code", flat=True)))
    many = f"{len(codes)} {label}{'' if len(codes) == 1 else 's'}"
    return f"{many} of {' and '.join(substances)}" if 0 < len(substances) <= 2 else many


def _spaced(thing: str) -> str:
    """A kind of thing in words, with its key: `leak event 12`."""
    kind, _, key = thing.partition(" ")
    return f"{kind.replace('-', ' ')} {key}"
