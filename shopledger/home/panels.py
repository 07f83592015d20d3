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

from inventory.shop.clock import now
from jobs.people.models import Role
from jobs.people.queries import certificates_ending
from shopledger.templatetags.shop import written

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


ROWS = 8  # a panel is a glance; its list has the rest


def certificates(request: HttpRequest) -> Panel | None:
    """Certificates ended or ending within 60 days: everybody's for an owner, else one's own."""
    today = now().astimezone(request.shop.zone).date()
    ending = certificates_ending(today)
    owner = request.user.role == Role.OWNER
    if not owner:
        ending = ending.filter(person=request.user)
    rows = [
        {
            "text": f"{one.person.name}: {one}" if owner else str(one),
            "url": reverse("person", args=[one.person_id]) if owner else "",
            "badge": f"{'ended' if one.expires < today else 'valid through'} {written(one.expires)}",
            "state": "bad" if one.expires < today else "warn",
        }
        for one in ending[:ROWS]
    ]
    if not rows:
        return None
    title = "Certificates that end soon" if owner else "Your certificates that end soon"
    return {"title": title, "rows": rows, "links": pages(("All people", "people")) if owner else []}


PANELS: tuple[Callable[[HttpRequest], Panel | None], ...] = (certificates,)


def panels(request: HttpRequest) -> list[Panel]:
    return [panel for make in PANELS if (panel := make(request))]
