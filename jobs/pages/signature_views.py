"""The customer's signature by finger, on the page of a draft."""

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_POST

from inventory.shop.access import everybody
from inventory.shop.forms import add_refused
from inventory.text.refusal import Refused
from jobs.drafts.signatures import add_signature, take_signature_back
from jobs.pages.access import job_or_404
from jobs.pages.draft_views import answer
from jobs.pages.entry_forms import SignatureForm
from jobs.pages.finger import finger


@everybody
@require_POST
def job_finger(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep what the customer signed."""
    shown = job_or_404(request, pk)
    form = SignatureForm(request.POST, request.FILES, auto_id="finger-%s")
    if form.is_valid():
        data = form.cleaned_data
        try:
            add_signature(shown.pk, by=request.user, name=data["name"], upload=data["file"], key=data["key"])
        except Refused as refused:
            add_refused(form, refused)
        else:
            return answer(request, job_or_404(request, pk), "finger")
    return answer(request, shown, "finger", 422, finger=finger(shown, form))


@everybody
@require_POST
def job_finger_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Withdraw the signature that stands, with the reason."""
    shown = job_or_404(request, pk)
    try:
        take_signature_back(shown.pk, by=request.user, why=request.POST.get("why", ""))
    except Refused as refused:
        return answer(request, shown, "finger", 422, finger=finger(shown, why=refused.message))
    return answer(request, job_or_404(request, pk), "finger")
