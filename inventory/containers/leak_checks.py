"""Containers that are checked for leaks: keeping a check, and what the rulebook says of the next."""

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import BooleanField, DateField, OuterRef, QuerySet, Subquery
from django.utils import timezone

from inventory.containers.models import Container, ContainerCheck
from inventory.containers.queries import in_stock
from inventory.ledger.actions import writing
from inventory.measures.days import said_day
from inventory.reference.rulebook import Rulebook
from inventory.shop.days import happened
from inventory.text.clean import clean
from inventory.text.refusal import Refused
from inventory.verdicts.containers_checked import container_checked
from inventory.verdicts.verdict import Verdict


def check_for_leaks(
    *, codes: Sequence[str], day: dt.date, leaks: bool, note: str, by: str, key: uuid.UUID
) -> list[ContainerCheck]:
    """Keep one check of each container. The same key checks once. Raises Refused, and keeps none, where one is not in
    the book, or was not there on that day."""
    happened(day)
    note = clean(note, "note", 300)
    if not codes:
        raise Refused("No container is chosen; tick some in the list of stock first.")
    with writing():
        known = list(ContainerCheck.objects.filter(key=key))
        if known:
            return known
        found = {one.code: one for one in Container.objects.filter(code__in=codes, void=False)}
        for code in codes:
            _refuse(found.get(code), code, day)
        said = {"day": day, "leaks": leaks, "note": note, "by": by, "at": timezone.now(), "key": key}
        return [ContainerCheck.objects.create(container=found[code], **said) for code in codes]


def _refuse(container: Container | None, code: str, day: dt.date) -> None:
    if container is None:
        raise Refused(f"There is no container {code[:60]} in this shop's book; check its label.")
    if container.arrived_on > day:
        raise Refused(f"{code} came in on {said_day(container.arrived_on)}; date the check that day or later.", "day")
    if container.retired_on and container.retired_on < day:
        raise Refused(f"{code} was retired on {said_day(container.retired_on)}; it is not checked after that.", "day")


def with_last_check(containers: QuerySet[Container], through: dt.date | None = None) -> QuerySet[Container]:
    """Each container with `checked_on`, the day of its last check for leaks, and `leaking`, what it showed; None where
    there was none. through: only checks up to that day."""
    checks = ContainerCheck.objects.filter(container=OuterRef("pk")).order_by("-day", "-id")
    if through is not None:
        checks = checks.filter(day__lte=through)
    return containers.annotate(
        checked_on=Subquery(checks.values("day")[:1], output_field=DateField()),
        leaking=Subquery(checks.values("leaks")[:1], output_field=BooleanField()),
    )


@dataclass(frozen=True)
class Checked:
    """A container and what the rulebook says of its next check."""

    container: Container
    verdict: Verdict


def checks_of(rules: Rulebook, day: dt.date) -> list[Checked]:
    """Containers in stock that hold refrigerant and whose check the rulebook asks for, in the order of their codes. One
    question, however many there are."""
    kinds = {kind for rule in rules.section("container_check", day) for kind in rule.kinds}
    if not kinds:
        return []
    held = in_stock().filter(kind__in=kinds, account__balance__gt=0, arrived_on__lte=day)
    return [Checked(one, check_of(one, rules, day)) for one in with_last_check(held, day).order_by("code")]


def check_of(container: Container, rules: Rulebook, day: dt.date) -> Verdict:
    """What the rulebook says of the next check of a container that `with_last_check` answered."""
    return container_checked(rules, container.kind, container.arrived_on, container.checked_on, day)
