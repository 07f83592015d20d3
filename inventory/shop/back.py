"""Where a page leads back to, once what it is for is done: to the list or the walk that led to it."""

from django.http import HttpRequest, QueryDict
from django.utils.http import url_has_allowed_host_and_scheme

BACK = "back"  # of an address: `/stock/move/?back=/month/`
MOST = 2000  # characters of such an address


def back_of(request: HttpRequest, usual: str = "") -> str:
    """The page of this site that the address names to go back to, else `usual`. A piece of a page that is asked for by
    script says it with the address that the page stands at. No other site is gone to."""
    said = request.GET.get(BACK, "")
    if not said and "HX-Current-URL" in request.headers:
        said = QueryDict(request.headers["HX-Current-URL"].partition("?")[2]).get(BACK, "")
    return said if is_here(said) else usual


def is_here(address: str) -> bool:
    """Whether an address is a page of this site, written from its top."""
    plain = address.isprintable() and address.startswith("/") and len(address) <= MOST
    return plain and url_has_allowed_host_and_scheme(address, allowed_hosts=None)
