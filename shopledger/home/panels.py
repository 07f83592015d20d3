"""What the home page shows: one function a panel, each answering for the person who asks.

A panel is a dictionary: `title`, and of `text`, `rows`, `links`, `template` what it has.
    rows: [{"text", "url", "note" or ("badge" and "state": good, warn, bad or idle)}]
    links: [{"text", "url"}]; `primary` True marks the first one as what most people came for
    template: a partial that draws the panel's body itself, with `panel` in its context
None where there is nothing to show to this person. Each panel costs one query at most, that of leaks six, that of what
is due three more where something ordered should be here, however many rows there are; what several are drawn from is
asked once (`asked.py`)."""

import datetime as dt
from collections.abc import Callable

from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse
from django.utils.http import urlencode

from inventory.ledger.clocks import CLOCK, sentence
from inventory.measures.days import said_day
from inventory.measures.quantity import show
from inventory.shop.models import Shop
from inventory.write_offs.queries import lost_of, waiting_for
from jobs.drafts.queries import jobs_for
from jobs.leaks.case_queries import open_cases
from jobs.people.models import Role
from jobs.people.queries import certificates_ending
from shopledger.backup.upkeep import judged
from shopledger.home.asked import Asked
from shopledger.home.due import LONG_OPEN
from shopledger.sealing.queries import waits_for_hands
from shopledger.signin.machine import was_let_in

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


OWN_CERTIFICATES = "Your certificates that end soon"
MONTHS = 5  # before this one, in the picture
ROWS = 8  # a panel is a glance; its list has the rest


def certificates(asked: Asked) -> Panel | None:
    """Certificates ended or ending within 60 days: everybody's for an owner, else one's own."""
    today = asked.today
    if asked.person.role == Role.OFFICE:
        return _own_certificates(asked)
    ending = certificates_ending(today)
    owner = asked.is_owner
    if not owner:
        ending = ending.filter(person=asked.person)
    rows = [
        {
            "text": f"{one.person.name}: {one}" if owner else str(one),
            "url": reverse("person", args=[one.person_id]) if owner else "",
            "badge": f"{'ended' if one.expires < today else 'valid through'} {said_day(one.expires)}",
            "state": "bad" if one.expires < today else "warn",
        }
        for one in ending[:ROWS]
    ]
    if not rows:
        return None
    title = "Certificates that end soon" if owner else OWN_CERTIFICATES
    return {"title": title, "rows": rows, "links": pages(("All people", "people")) if owner else []}


def _own_certificates(asked: Asked) -> Panel | None:
    """The first of one's own to end, told beside the ledger's head."""
    head = asked.head
    if not head.certificates_many:
        return None
    ended, others = head.certificate_expires < asked.today, head.certificates_many - 1
    row = {
        "text": f"{head.certificate_scheme} {head.certificate_number}{f' and {others} more' if others else ''}",
        "url": "",
        "badge": f"{'ended' if ended else 'valid through'} {said_day(head.certificate_expires)}",
        "state": "bad" if ended else "warn",
    }
    return {"title": OWN_CERTIFICATES, "rows": [row]}


def drafts(asked: Asked) -> Panel | None:
    """Jobs that are not signed yet: one's own, or for office and owner everybody's."""
    found = jobs_for(asked.person).filter(state="draft").order_by("-id")[:ROWS]
    rows = [
        {
            "text": f"{job.unit.title}, job {job.title}",
            "url": reverse("job", args=[job.pk]),
            "note": f"{job.technician.name}, {said_day(job.day)}",
        }
        for job in found
    ]
    text = "" if rows else "No draft is open."
    links = [{"text": "Start a job", "url": reverse("job-new")}, {"text": "All jobs", "url": reverse("jobs")}]
    return {"title": "Open jobs", "rows": rows, "text": text, "links": links, "primary": True}


def due(asked: Asked) -> Panel | None:
    """For office and owner: what is open, late or due in the shop as a whole."""
    if asked.person.role == Role.TECHNICIAN:
        return None
    head, ended = asked.head, asked.today.replace(day=1) - dt.timedelta(days=1)
    unsealed = bool(head.number) and (head.sealed_through is None or head.sealed_through < ended)
    known = (
        (unsealed, f"{ended:%B %Y} is not sealed", "month-end", "warn", "open"),
        (head.counts_open, "Counts under way", "counting", "warn", "open"),
        (head.orders_late, "Ordered and not come", "orders", "warn", "late"),
        (head.drafts_old, f"Drafts older than {LONG_OPEN.days} days", "month-end", "warn", "late"),
        (head.scales_due, "Checks of scales", "scales", "bad", "due"),
        (head.machines_due, "Checks of machines", "machines", "bad", "due"),
    )
    rows = [
        {"text": text, "url": reverse(page), "badge": word if many is True else f"{many} {word}", "state": state}
        for many, text, page, state, word in known
        if many
    ]
    if not rows:
        return None
    return {"title": "Open and due", "rows": rows, "links": pages(("Month end", "month-end"))}


def month(asked: Asked) -> Panel | None:
    """For office and owner: how the last months and this one look; before anything is in stock, how to begin."""
    if asked.person.role == Role.TECHNICIAN:
        return None
    if not asked.head.number:
        links = pages(("Enter the opening stock", "opening-new"))
        return {"title": "Stock", "text": "Nothing is in stock yet.", "links": links}
    first = (asked.today.replace(day=1) - dt.timedelta(days=MONTHS * 28)).replace(day=1)
    days = urlencode({"first": first, "last": asked.today})
    return {
        "title": "The last months",
        "template": "home/_month.html",
        "chart": f"{reverse('report-chart', args=['usage'])}?{days}&which=1",
        "report": f"{reverse('report', args=['usage'])}?{days}",
        "links": pages(("Stock", "stock"), ("Month end", "month-end")),
    }


def leak_deadlines(asked: Asked) -> Panel | None:
    """What is to be done about leak rates that were over their limit, the most pressing first. The number of statements
    is constant."""
    today = asked.today
    rows: dict[int, dict[str, str]] = {}
    for leaks, case in open_cases(asked.shop.rules, today):
        step, unit = case.next, leaks.unit
        if step is None or unit.pk in rows:
            continue
        late = step.due is not None and step.due < today
        rows[unit.pk] = {
            "text": f"{unit.title}: {step.what.lower()}",
            "url": reverse("unit-leaks", args=[unit.pk]),
            "badge": f"{'late, was due' if late else 'by'} {said_day(step.due)}" if step.due else "no day yet",
            "state": "bad" if late else "warn" if step.due else "idle",
        }
    if not rows:
        return None
    links = pages(("All of them", "leak-checks"))
    return {"title": "Leaks to be repaired", "rows": list(rows.values())[:ROWS], "links": links}


def short(asked: Asked) -> Panel | None:
    """Substances under their reorder point."""
    person = asked.person
    rows = [
        {
            "text": f"{code} at {place}" if place else code,
            "url": reverse("enough"),
            "badge": f"{show(total, person.volume_unit if oil else person.mass_unit)} left",
            "state": "bad",
        }
        for code, oil, place, total in asked.stock[1]
    ]
    if not rows:
        return None
    return {"title": "Running short", "rows": rows[:ROWS], "links": pages(("What lasts how long", "enough"))}


def write_offs(asked: Asked) -> Panel | None:
    """What others wrote off beyond the limit, and waits for this person's yes."""
    rows = [
        {
            "text": lost_of(one),
            "url": reverse("write-off", args=[one.pk]),
            "note": f"{one.asked_name}, {said_day(asked.here(one.asked_at))}",
        }
        for one in waiting_for(asked.person)[:ROWS]
    ]
    if not rows:
        return None
    return {"title": "Write-offs that wait for your yes", "rows": rows, "links": pages(("All of them", "write-offs"))}


def receipt(asked: Asked) -> Panel | None:
    """For an owner: the latest seal, until somebody outside the shop holds its receipt."""
    if not asked.is_owner or not waits_for_hands(asked.head.sealed_through, asked.head.handed):
        return None
    row = {
        "text": f"Sealed up to {said_day(asked.head.sealed_through)}",
        "url": reverse("sealed", args=[asked.head.seal_id]),
        "badge": "not handed out",
        "state": "warn",
    }
    text = "Paper in other hands is what binds this shop to its past."
    return {"title": "A receipt to hand out", "text": text, "rows": [row]}


def clocks(asked: Asked) -> Panel | None:
    """For an owner: what was noted of clocks, until it was seen."""
    found = [one for one in asked.noted if one.kind == CLOCK][:ROWS] if asked.is_owner else []
    if not found:
        return None
    rows = [{"text": sentence(one), "url": reverse("health"), "badge": "look", "state": "warn"} for one in found]
    return {"title": "What was noted of clocks", "rows": rows, "links": pages(("Health", "health"))}


def keeping(asked: Asked) -> Panel | None:
    """For an owner: what is amiss with the backups, and whom a command on the machine let in."""
    if not asked.is_owner:
        return None
    rows = [
        {
            "text": f"{one.label}: {one.said} {one.advice}",
            "url": reverse("health"),
            "badge": one.state,
            "state": BADGES[one.state],
        }
        for one in judged(asked.head)
        if one.state in BADGES
    ]
    let_in = [one for one in asked.noted if was_let_in(one)]
    rows += [
        {
            "text": f"{one.key} was given a new password by a command on the machine",
            "url": reverse("trail"),
            "badge": said_day(one.voucher.day),
            "state": "warn",
        }
        for one in let_in[:ROWS]
    ]
    return {"title": "How the records are kept", "rows": rows} if rows else None


BADGES = {"look": "warn", "wrong": "bad"}


def setting_up(asked: Asked) -> Panel | None:
    """What an owner does first: only until the shop has a name of its own."""
    if not asked.is_owner or asked.shop.name != Shop().name:
        return None
    steps = (
        ("The shop's name, time zone and rulebook", "settings"),
        ("People and their certificates", "people"),
        ("Places and scales", "places"),
        ("Opening stock", "opening-new"),
    )
    return {"title": "Set the shop up", "links": pages(*steps), "primary": True}


PANELS: tuple[Callable[[Asked], Panel | None], ...] = (
    setting_up,
    clocks,
    drafts,
    write_offs,
    leak_deadlines,
    due,
    short,
    certificates,
    month,
    receipt,
    keeping,
)


def panels(request: HttpRequest) -> list[Panel]:
    asked = Asked(request)
    return [panel for make in PANELS if (panel := make(asked))]
