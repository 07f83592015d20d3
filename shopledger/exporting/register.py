"""Whom and what a shop knows, as rows of a log: codes stand in their order, so that a log gives the same ones again."""

from collections.abc import Iterator

from django.db.models import F, Q

from inventory.containers.models import ContainerCheck, Scale
from inventory.counting.models import Explanation
from inventory.machines.models import Machine, MachineCheck
from inventory.measures.quantity import exact
from inventory.parties.models import Party
from inventory.scales.models import ScaleCheck
from inventory.shop.models import Shop
from jobs.leaks.models import LeakEvent
from jobs.people.models import STAFF, Person
from jobs.units.models import Customer, FullCharge, LeakRateMethod, Premises, Unit
from shopledger.exporting.moments import Moments
from shopledger.logbook.plain_fields import cells_of
from shopledger.logbook.wider import FULL_CHARGE, LEAK_EVENT, MACHINE, SCALE_CHECK, UNIT

Cells = dict[str, str]


def shop() -> Iterator[Cells]:
    one = Shop.current()
    usual = Scale.objects.filter(usual=True).first()
    yield {
        "name": one.name,
        "address": one.address,
        "timezone": one.timezone,
        "rulebook": one.rulebook,
        "readability": exact(usual.readability_mg, "g") if usual else "1 g",
        "capacity": exact(usual.capacity_mg, "g") if usual and usual.capacity_mg else "",
        "currency": one.currency,
        "usual_scale": usual.code if usual else "",
    }


def people() -> Iterator[Cells]:
    roles = [role.value for role in STAFF]
    for person in Person.objects.filter(role__in=roles).prefetch_related("certificates").order_by("id"):
        who = {"username": person.username, "name": person.name, "role": person.role}
        certificates = sorted(person.certificates.all(), key=lambda one: one.pk)
        for one in certificates or [None]:
            held = (
                {
                    "scheme": one.scheme,
                    "certificate": one.number,
                    "issuer": one.issuer,
                    "issued": one.issued.isoformat(),
                    "expires": one.expires.isoformat() if one.expires else "",
                }
                if one
                else {}
            )
            yield {**who, **held}


def parties() -> Iterator[Cells]:
    for one in Party.objects.order_by("id"):
        yield {"name": one.name, "role": one.role, "address": one.address, "registration": one.registration}


def scales() -> Iterator[Cells]:
    for one in Scale.objects.order_by("id"):
        yield {
            "code": one.code,
            "capacity": exact(one.capacity_mg, "g") if one.capacity_mg else "",
            "readability": exact(one.readability_mg, "g"),
            "checked_until": one.checked_until.isoformat() if one.checked_until else "",
        }


def customers() -> Iterator[Cells]:
    for one in Customer.objects.order_by("id"):
        yield {
            "customer": one.code,
            "name": one.name,
            "phone": one.phone,
            "address": one.address,
            "note": one.note,
        }


def premises() -> Iterator[Cells]:
    for one in Premises.objects.select_related("customer").order_by("id"):
        said = {"name": one.name, "address": one.address, "note": one.note}
        yield {"premises": one.code, "customer": one.customer.code, **said}


def methods() -> Iterator[Cells]:
    names = ("method", "from_day", "reason")
    for one in LeakRateMethod.objects.select_related("premises").order_by("id"):
        yield {"premises": one.premises.code, **cells_of(LeakRateMethod, one, names)}


def units() -> Iterator[Cells]:
    for one in Unit.objects.select_related("customer", "premises").order_by("id"):
        whose = {
            "customer": one.customer.code if one.customer else "",
            "premises": one.premises.code if one.premises else "",
        }
        yield {"unit": one.code, **whose, **cells_of(Unit, one, UNIT)}


def _code(one: Customer | Premises | None) -> str:
    return one.code if one else ""


def full_charges() -> Iterator[Cells]:
    for one in FullCharge.objects.select_related("unit").order_by("id"):
        yield {"unit": one.unit.code, **cells_of(FullCharge, one, FULL_CHARGE)}


def scale_checks() -> Iterator[Cells]:
    for one in ScaleCheck.objects.select_related("scale").order_by("id"):
        yield {"scale": one.scale.code, **cells_of(ScaleCheck, one, ("day", *SCALE_CHECK))}


def machines() -> Iterator[Cells]:
    for one in Machine.objects.select_related("container").order_by("id"):
        tank = one.container.code if one.container and not one.container.void else ""
        yield {"container": tank, **cells_of(Machine, one, MACHINE)}


def machine_checks() -> Iterator[Cells]:
    """The day of the next one stands beside the last that passed, which says it."""
    latest: dict[int, int] = {}
    checks = MachineCheck.objects.select_related("machine")
    for one in checks.filter(passed=True).order_by("day", "id"):
        latest[one.machine_id] = one.pk
    for one in checks.order_by("id"):
        due = one.machine.check_due if latest.get(one.machine_id) == one.pk else None
        yield {
            "serial": one.machine.serial,
            "day": one.day.isoformat(),
            "passed": "yes" if one.passed else "no",
            "next_due": due.isoformat() if due else "",
            "note": one.note,
            "by": one.by,
        }


# Of what was here on the day of its check, by all that stands now.
HERE = Q(container__void=False, container__arrived_on__lte=F("day")) & (
    Q(container__retired_on=None) | Q(container__retired_on__gte=F("day"))
)


def container_checks() -> Iterator[Cells]:
    for one in ContainerCheck.objects.filter(HERE).select_related("container").order_by("id"):
        leaks = "yes" if one.leaks else "no"
        yield {
            "container": one.container.code,
            "day": one.day.isoformat(),
            "leaks": leaks,
            "note": one.note,
            "by": one.by,
        }


def container_checks_left() -> int:
    return ContainerCheck.objects.count() - ContainerCheck.objects.filter(HERE).count()


def leak_events() -> Iterator[Cells]:
    found = LeakEvent.objects.filter(voided_on=None).select_related("unit", "job", "person")
    for one in found.order_by("day", "id"):
        said = cells_of(LeakEvent, one, LEAK_EVENT)
        for name in ("passed", "all_leaks", "evacuated"):
            said[name] = {True: "yes", False: "no", None: ""}[getattr(one, name)]
        visit = one.job.number if one.job and one.job.state == "signed" else ""
        yield {"unit": one.unit.code, "job": visit, "person": one.person.username if one.person else "", **said}


def reasons(moments: Moments) -> Iterator[Cells]:
    """The latest explanation of each weighing that stands."""
    latest: dict[int, Explanation] = {}
    for one in Explanation.objects.select_related("weighing__container", "weighing__restates").order_by("id"):
        first = one.weighing.restates or one.weighing
        latest[first.pk] = one
    for one in latest.values():
        first = one.weighing.restates or one.weighing
        at = first.position.split(" ")[1] if " " in first.position else ""
        if (first.voucher_id, at) in moments.found:
            yield {
                "date": moments.of(first.voucher_id, at),
                "container": one.weighing.container.code,
                "role": first.role,
                "reason": one.reason,
                "note": one.note,
                "by": one.by,
            }
