"""Which vouchers take the place of which, and which follow from which.

A correction is posted in one go: the reversal, the new voucher right behind it, and right behind that the restatement,
where there is one. So what belongs together is found among a voucher's neighbours.
"""

import json
from dataclasses import dataclass

from inventory.correcting.again import Said, elsewhere, way_of
from inventory.ledger.models import BESIDE_STOCK, Voucher


@dataclass(frozen=True)
class Links:
    """taken_back_by: the reversal of a voucher. corrected_by: what stands in its place, where something does.
    corrects: the voucher whose place it takes. in_its_place: of a reversal, what stands in the place of what it takes
    back. because: of a restatement, the voucher from which it follows. followed_by: the restatement that follows."""

    taken_back_by: Voucher | None = None
    corrected_by: Voucher | None = None
    corrects: Voucher | None = None
    in_its_place: Voucher | None = None
    because: Voucher | None = None
    followed_by: Voucher | None = None


def links_of(voucher: Voucher) -> Links:
    """voucher: with reversed_by and reverses. One question."""
    back = getattr(voucher, "reversed_by", None)
    number = voucher.number
    wanted = {number - 1, number + 1} | ({back.number + 1} if back else set())
    beside = {one.number: one for one in Voucher.objects.filter(number__in=wanted).select_related("reverses")}
    before, after = beside.get(number - 1), beside.get(number + 1)
    corrected_by = _revision(beside.get(back.number + 1), voucher) if back else None
    in_its_place = _revision(after, voucher.reverses) if voucher.reverses_id else None
    corrects = before.reverses if voucher.first_revision_id and before and before.kind == "reversal" else None
    follows = after if after and after.kind == "restatement" and _because(after) == number else None
    because = before if voucher.kind == "restatement" else None
    return Links(back, corrected_by, corrects, in_its_place, because, follows)


def _revision(one: Voucher | None, of: Voucher) -> Voucher | None:
    """A voucher, where it is a later revision of the same entry."""
    first = of.first_revision_id or of.number
    return one if one is not None and one.first_revision_id == first else None


def _because(restatement: Voucher) -> int:
    return json.loads(restatement.detail)["because"]


def why_not(said: Said, links: Links) -> str:
    """Why an entry is not corrected, whoever asks, in a sentence; blank where it may be."""
    number, kind = said.voucher.number, said.voucher.kind
    if links.corrected_by:
        return f"Voucher {number} was corrected by voucher {links.corrected_by.number}; correct that one."
    if links.taken_back_by:
        return (
            f"Voucher {number} was taken back by voucher {links.taken_back_by.number}; record what is right as a new "
            "entry."
        )
    if kind == "reversal":
        return "What was taken back stays taken back; record what is right as a new entry."
    if kind == "restatement":
        return f"It follows from voucher {links.because.number}; correct what is wrong there, and this goes along."
    if kind in BESIDE_STOCK:
        return "It moved nothing and stays; what it states is changed where it was entered."
    if way_of(said) is None and kind not in elsewhere:
        return f"There is no form to correct a {kind} in; take it back, and record what is right as a new entry."
    return ""
