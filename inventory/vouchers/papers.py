"""The papers of a voucher."""

from django.db.models import QuerySet

from inventory.attachments.models import Attachment
from inventory.ledger.models import Voucher
from inventory.ledger.queries import revisions_of


def papers_of(voucher: Voucher) -> QuerySet[Attachment]:
    """The files of a voucher and of all revisions of the same entry: a paper stays that of its delivery, however often
    what was typed from it is corrected."""
    numbers = revisions_of(Voucher.objects.filter(number=voucher.number)).values_list("number", flat=True)
    return Attachment.objects.filter(subject__in=[f"voucher:{number}" for number in numbers], withdrawn_at=None)
