"""What the part of a draft's page is drawn from where the customer signs."""

from jobs.drafts.models import Job
from jobs.drafts.signatures import signature_of
from jobs.pages.entry_forms import SignatureForm


def finger(shown: Job, form: SignatureForm | None = None, why: str = "") -> dict[str, object]:
    """What `jobs/_finger.html` shows, as `finger`: the signature that stands, and the form of another. form: one that
    came back with faults; why: a taking back that was refused, in words."""
    return {"standing": signature_of(shown), "form": form or SignatureForm(auto_id="finger-%s"), "error": why}
