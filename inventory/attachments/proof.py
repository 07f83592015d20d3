"""What `verify` proves of attached files."""

from inventory.attachments.actions import read_bytes
from inventory.attachments.models import Attachment
from inventory.ledger.proof import Proof
from inventory.text.refusal import Refused


def check_attachments(proof: Proof) -> None:
    """Each file is as it was attached; what was erased has none."""
    for row in Attachment.objects.exclude(sha256="").order_by("id").iterator(200):
        try:
            read_bytes(row)
        except Refused as refused:
            proof.fault(refused.message)
