"""Containers that were not checked for leaks as the rulebook asks, and those that were found leaking."""

from collections.abc import Iterator

from django.urls import reverse

from inventory.containers.leak_checks import Checked, checks_of, with_last_check
from inventory.containers.models import Container
from inventory.containers.queries import in_stock
from inventory.reference.rulebook import Rulebook
from shopledger.findings.finding import GOOD_PRACTICE, Finding
from shopledger.reporting.report import Period

NAMED = 10  # containers that a finding calls by their codes


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    found = checks_of(rules, period.last)
    for severity, answer in (("medium", "breach"), ("low", "due")):
        open_ones = [one for one in found if one.verdict.answer == answer]
        if open_ones:
            yield _unchecked(open_ones, severity)
    for one in _leaking(period):
        yield Finding(
            "medium",
            "container leaks",
            GOOD_PRACTICE,
            f"{one.code} was found leaking on {one.checked_on} and is not empty; pass on what is in it.",
            reverse("container", args=[one.code]),
            one.checked_on,
        )


def _unchecked(found: list[Checked], severity: str) -> Finding:
    """One finding of all that are late alike."""
    codes = ", ".join(one.container.code for one in found[:NAMED])
    more = f" and {len(found) - NAMED} more" if len(found) > NAMED else ""
    first = found[0].verdict
    verb = "was" if len(found) == 1 else "were"
    what = f"{codes}{more} {verb} not checked for leaks as is asked. {found[0].container.code}: {first.said}"
    return Finding(severity, "container check", first.cited, what, reverse("container-checks"), verdict=first)


def _leaking(period: Period) -> Iterator[Container]:
    held = in_stock().filter(account__balance__gt=0)
    yield from with_last_check(held, period.last).filter(leaking=True).order_by("code")
