"""The questions about deliveries."""

import datetime as dt

from django.db.models import CharField, Exists, OuterRef, Q, Value
from django.db.models.functions import Cast, Coalesce, Concat

from inventory.attachments.models import Attachment
from inventory.ledger.models import Voucher


def without_paper(first: dt.date, last: dt.date):
    """Deliveries of a period to which no document is attached, neither as they stand nor as they were before."""
    attached = Attachment.objects.filter(subject=OuterRef("subject"), withdrawn_at=None)
    same = Q(number=OuterRef("first")) | Q(first_revision=OuterRef("first"))
    revisions = Voucher.objects.filter(same).annotate(
        subject=Concat(Value("voucher:"), Cast("number", CharField()), output_field=CharField())
    )
    receipts = Voucher.objects.standing().filter(kind="receipt", day__gte=first, day__lte=last)
    receipts = receipts.annotate(first=Coalesce("first_revision_id", "number"))
    return receipts.filter(~Exists(revisions.filter(Exists(attached)))).order_by("number")
