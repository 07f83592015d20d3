"""A count on paper: the sheet to write on, and what it found."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone

from inventory.containers.models import Location
from inventory.counting import queries
from inventory.counting.models import Count
from inventory.counting.paper import Stands, count_sheet
from inventory.counting.result import result_of, result_paper
from inventory.ledger.snapshot import one_moment
from inventory.paper.foot import Origin, foot
from inventory.shop.access import office


@office
def count_paper(request: HttpRequest, pk: int) -> HttpResponse:
    """The sheet to print and write on."""
    place = get_object_or_404(Location, pk=pk)
    with one_moment():
        stands = Stands(queries.to_count(place), queries.to_count(place, theirs=True), queries.held_here(place))
        paper = foot(f"Count of {place.name}", Origin(request.user.name, timezone.now()), place="container")
    made = count_sheet(place.name, stands, paper, request.user, blind=request.shop.blind_counts)
    return _pdf(made, "count.pdf")


@office
def count_result(request: HttpRequest, pk: int) -> HttpResponse:
    """What a posted count found."""
    posted = Count.objects.filter(state="posted").select_related("location", "scale", "voucher")
    with one_moment():
        count = get_object_or_404(posted, pk=pk)
        result = result_of(count)
        title = f"Count of {count.location.name}, voucher {count.voucher_id}"
        paper = foot(title, Origin(request.user.name, timezone.now()), place="container")
    return _pdf(result_paper(result, paper, request.user), f"count-{count.voucher_id}.pdf")


def _pdf(content: bytes, name: str) -> HttpResponse:
    answer = HttpResponse(content, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{name}"'
    return answer
