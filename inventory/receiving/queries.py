"""The questions about deliveries."""

import datetime as dt

from django.db.models import CharField, Exists, OuterRef, Value
from django.db.models.functions import Cast, Concat

from inventory.attachments.models import Attachment
from inventory.containers.events import VERBS, read
from inventory.ledger.models import Voucher


def without_paper(first: dt.date, last: dt.date):
    """Deliveries of a period to which no document is attached."""
    subject = Concat(Value("voucher:"), Cast(OuterRef("number"), CharField()))
    attached = Attachment.objects.filter(subject=subject, withdrawn_at=None)
    receipts = Voucher.objects.standing().filter(kind="receipt", day__gte=first, day__lte=last)
    return receipts.filter(~Exists(attached)).order_by("number")


def arrivals_of(detail: dict) -> list[dict]:
    """What a delivery's voucher says of each container that it brought: what `arrive` says in its event, and what is
    kept besides (water_capacity_mg, retest_due, price_minor, deposit_minor), where it is known."""
    ops = [op for op in read(detail["event"]).ops if op.verb == "arrive"] if "event" in detail else []
    besides = detail.get("arrivals", {})
    found = []
    for op in ops:
        said = dict(zip(VERBS["arrive"], op.what, strict=True))
        found.append({"container": op.code, **said, **besides.get(op.code, {})})
    return found
