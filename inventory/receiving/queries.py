"""The questions about deliveries."""

import datetime as dt

from django.db.models import CharField, Exists, OuterRef, Value
from django.db.models.functions import Cast, Concat

from inventory.attachments.models import Attachment
from inventory.ledger.models import Voucher


def without_paper(first: dt.date, last: dt.date):
    """Deliveries of a period to which no document is attached."""
    subject = Concat(Value("voucher:"), Cast(OuterRef("number"), CharField()))
    attached = Attachment.objects.filter(subject=subject, withdrawn_at=None)
    receipts = Voucher.objects.filter(kind="receipt", day__gte=first, day__lte=last, reversed_by=None)
    return receipts.filter(~Exists(attached)).order_by("number")
