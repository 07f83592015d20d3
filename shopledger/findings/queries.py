"""All findings of a period, the gravest first."""

from inventory.shop.models import Shop
from shopledger.findings.finding import SEVERITIES, Finding
from shopledger.findings.rules import ALL
from shopledger.reporting.report import Period, coded


def findings(period: Period) -> list[Finding]:
    """What the shop's rulebook, and good practice, would object to in a period and in the present state."""
    rules = Shop.current().rules
    found = [one for rule in ALL for one in rule(period, rules)]
    return sorted(
        found, key=lambda one: (SEVERITIES.index(one.severity), one.rule, str(one.day or ""), coded(one.what))
    )
