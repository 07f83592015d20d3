"""Questions about people and their certificates. A certificate counts on its last valid day."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable

from django.db.models import Count, Exists, Min, OuterRef, Prefetch, Q, QuerySet

from inventory.ledger.models import Substance
from inventory.reference.refrigerants import refrigerants
from inventory.reference.rulebook import UnknownRulebook, rulebook
from jobs.people.models import STAFF, Certificate, Person

ANY_SCHEME = "*"  # how a rulebook says that it does not ask which


def certificates_valid(day: dt.date) -> QuerySet[Certificate]:
    """All certificates valid on the day, with their persons."""
    return (
        Certificate.objects.filter(issued__lte=day)
        .filter(Q(expires__isnull=True) | Q(expires__gte=day))
        .select_related("person")
    )


def certificates_held(person: Person, day: dt.date) -> list[Certificate]:
    """The person's certificates that are valid on the day, the latest issued first."""
    return [one for one in person.certificates.order_by("-issued", "-id") if one.valid_on(day)]


def certificates_ending(day: dt.date, within_days: int = 60) -> QuerySet[Certificate]:
    """Certificates of people still here whose last valid day is past, or comes within so many days of `day`.

    The soonest first. Left out where the same person holds one of the same scheme that lasts longer.
    """
    until = day + dt.timedelta(days=within_days)
    renewed = Certificate.objects.filter(person=OuterRef("person"), scheme=OuterRef("scheme")).filter(
        Q(expires__isnull=True) | Q(expires__gt=until)
    )
    return (
        Certificate.objects.filter(~Exists(renewed), expires__lte=until, person__is_active=True)
        .select_related("person")
        .order_by("expires", "person__name", "id")
    )


def people_list(day: dt.date) -> QuerySet[Person]:
    """Everybody, those still here first, each with `valid_certificates` on the day, `next_end` (the first
    last-valid day among those) and the certificates themselves."""
    valid = Q(certificates__issued__lte=day) & (
        Q(certificates__expires__isnull=True) | Q(certificates__expires__gte=day)
    )
    return (
        Person.objects.filter(role__in=STAFF)
        .annotate(
            valid_certificates=Count("certificates", filter=valid),
            next_end=Min("certificates__expires", filter=valid),
        )
        .prefetch_related(Prefetch("certificates", Certificate.objects.order_by("-issued", "-id")))
        .order_by("-is_active", "name", "username")
    )


def names_of_people(usernames: Iterable[str]) -> dict[str, str]:
    """What people are called now, by username; what is nobody's is left out."""
    return dict(Person.objects.filter(username__in=sorted(usernames)).values_list("username", "name"))


def people_here() -> QuerySet[Person]:
    """People who still work here, by name: whoever may be named on new work."""
    return Person.objects.filter(is_active=True, role__in=STAFF).order_by("name", "username")


def certificates_of(person: Person, day: dt.date) -> list[Certificate]:
    """The person's certificates, the latest issued first, each with `valid` on the day."""
    certificates = list(person.certificates.order_by("-issued", "-id"))
    for certificate in certificates:
        certificate.valid = certificate.valid_on(day)
    return certificates


def usual_refrigerant() -> str:
    """A refrigerant to ask of first: the first that the shop ever had, else the first there is."""
    had = Substance.objects.filter(is_oil=False).order_by("id").values_list("code", flat=True).first()
    return had or next(iter(refrigerants()))


def scheme_choices(book: str, day: dt.date) -> dict[str, str]:
    """Schemes to choose from, with what they are called: the rulebook's on that day, then those entered so far."""
    try:
        named = {scheme.code: scheme.title for scheme in rulebook(book).schemes(day) if scheme.code != ANY_SCHEME}
    except UnknownRulebook:
        named = {}
    used = Certificate.objects.order_by("scheme").values_list("scheme", flat=True).distinct()
    return named | {scheme: "" for scheme in used if scheme not in named}


def may_read_scans(person: Person, key: str) -> bool:
    """Scans of a certificate: the owner, and whose it is."""
    if person.role == "owner":
        return True
    return key.isdigit() and Certificate.objects.filter(pk=int(key), person=person).exists()


def certificates_by_person() -> dict[int, list[Certificate]]:
    found: dict[int, list[Certificate]] = defaultdict(list)
    for one in Certificate.objects.order_by("-issued", "-id"):
        found[one.person_id].append(one)
    return found
