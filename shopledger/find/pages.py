"""Pages and reports by their names."""

from dataclasses import dataclass

from jobs.people.wording import folded
from shopledger.navigation.keys import address_of
from shopledger.navigation.ways import OFFICE, OWNER, TECHNICIAN, WAYS
from shopledger.reports.registry import REPORTS

# label, name of the URL, who sees it: beside those of the navigation
MORE = (
    ("New job", "job-new", TECHNICIAN),
    ("Start a job", "job-new", TECHNICIAN),
    ("Units shown, density and keys", "preferences", TECHNICIAN),
    ("Change password", "password", TECHNICIAN),
    ("Customers", "customers", TECHNICIAN),
    ("Leak checks", "leak-checks", TECHNICIAN),
    ("Gas kept apart", "kept", TECHNICIAN),
    ("Receive a delivery", "receipt-new", OFFICE),
    ("Opening stock", "opening-new", OFFICE),
    ("Orders", "orders", OFFICE),
    ("New order", "order-new", OFFICE),
    ("Need of the next weeks", "need", OFFICE),
    ("Invoices", "invoices", OFFICE),
    ("New invoice", "invoice-new", OFFICE),
    ("Statements of suppliers", "statements", OFFICE),
    ("Suppliers, reclaimers, destroyers and buyers", "parties", OFFICE),
    ("Send away", "shipment-new", OFFICE),
    ("Differences", "differences", OFFICE),
    ("Scales and their checks", "scales", OFFICE),
    ("Machines", "machines", OFFICE),
    ("Places", "places", OFFICE),
    ("Checks of containers", "container-checks", OFFICE),
    ("Enough for next week", "enough", OFFICE),
    ("Costs", "costs", OFFICE),
    ("Write-offs", "write-offs", OFFICE),
    ("Seals", "seals", OFFICE),
    ("Inspection bundles", "bundles", OFFICE),
    ("Load a log", "logs", OFFICE),
    ("New person", "person-new", OWNER),
)


@dataclass(frozen=True)
class Named:
    """A page by its name."""

    label: str
    url: str
    is_report: bool = False


def pages_called(role: str, typed: str) -> list[Named]:
    """The pages and reports with a word that begins as each of those typed."""
    words = folded(typed).split()
    known = [Named(label, address_of(name)) for label, name, roles in (*WAYS, *MORE) if role in roles]
    if role in OFFICE:
        known += [Named(one.title, address_of("report", name), is_report=True) for name, one in REPORTS.items()]
    found: dict[str, Named] = {}
    for one in known:
        its = folded(one.label).split()
        if one.url and all(any(part.startswith(word) for part in its) for word in words):
            found.setdefault(one.url, one)
    return list(found.values())
