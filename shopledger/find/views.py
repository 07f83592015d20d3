"""The search of everything: a page of its own, and what `/` opens over any other."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from inventory.shop.access import everybody
from shopledger.find.queries import MOST_TYPED, find_all


@everybody
def find(request: HttpRequest) -> HttpResponse:
    """What a few letters fit, of what this person may open."""
    typed = " ".join(request.GET.get("q", "")[:MOST_TYPED].replace("\0", "").split())
    said = {"typed": typed, "groups": find_all(request.user, typed)}
    return render(request, "find/_found.html" if request.htmx else "find/find.html", said)
