"""The whole shop as one ZIP of a log's files, for its owner."""

from django.http import HttpRequest, HttpResponse

from inventory.shop.access import owner
from inventory.shop.clock import today
from shopledger.exporting.actions import as_zip, export


@owner
def log_export(_request: HttpRequest) -> HttpResponse:
    answer = HttpResponse(as_zip(export()), content_type="application/zip")
    answer["Content-Disposition"] = f'attachment; filename="shop-{today().isoformat()}.zip"'
    return answer
