"""One file, as a download: what was uploaded is never run, and never shown as a page."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_safe

from inventory.attachments.actions import read_bytes
from inventory.attachments.models import Attachment
from inventory.attachments.queries import may_read


@require_safe
def attachment(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Attachment, pk=pk)
    if not may_read(request.user, found):
        raise Http404
    answer = HttpResponse(read_bytes(found), content_type=found.type)
    answer["Content-Disposition"] = f'attachment; filename="{found.name.encode("ascii", "replace").decode()}"'
    answer["Content-Security-Policy"] = "default-src 'none'; sandbox"
    answer["Cache-Control"] = "private, max-age=3600"
    return answer
