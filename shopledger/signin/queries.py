"""How people sign in."""

from django.db.models import Count, Exists, OuterRef, QuerySet
from django_otp.plugins.otp_totp.models import TOTPDevice

from jobs.people.models import Person
from shopledger.signin.models import SignIn
from shopledger.signin.opened import still_open


def ways_in_of_all() -> list[Person]:
    """Everybody who may sign in, by name, each with `has_code`, `keys` (passkeys), `has_factor` and `open_now`
    (sign-ins)."""
    with_code = TOTPDevice.objects.filter(user=OuterRef("pk"), confirmed=True)
    found: QuerySet[Person] = Person.objects.filter(is_active=True).annotate(
        has_code=Exists(with_code), keys=Count("passkeys", distinct=True)
    )
    found = found.order_by("name", "username")
    numbers = dict(SignIn.objects.filter(still_open()).order_by().values_list("person").annotate(number=Count("id")))
    people = list(found)
    for one in people:
        one.has_factor = one.has_code or one.keys > 0
        one.open_now = numbers.get(one.pk, 0)
    return people
