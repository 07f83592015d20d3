"""What the home page shows: one function a panel, each answering for the person who asks.

A panel is a dictionary: `title`, and of `text`, `rows`, `links`, `template` what it has.
    rows: [{"text", "url", "note" or ("badge" and "state": good, warn, bad or idle)}]
    links: [{"text", "url"}]; `primary` True marks the first one as what most people came for
    template: a partial that draws the panel's body itself, with `panel` in its context
None where there is nothing to show to this person. Each panel costs at most two queries.
"""

from collections.abc import Callable

from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse

Panel = dict[str, object]


def pages(*entries: tuple[str, str]) -> list[dict[str, str]]:
    """Links from (words, name of the URL), without those that have no page."""
    links = []
    for text, name in entries:
        try:
            links.append({"text": text, "url": reverse(name)})
        except NoReverseMatch:
            continue
    return links


PANELS: tuple[Callable[[HttpRequest], Panel | None], ...] = ()


def panels(request: HttpRequest) -> list[Panel]:
    return [panel for make in PANELS if (panel := make(request))]
