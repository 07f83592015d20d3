"""The keys of the main actions."""

from dataclasses import dataclass

from django.urls import NoReverseMatch, reverse

from shopledger.navigation.ways import OFFICE, OWNER, TECHNICIAN

# key, label, name of the URL, who has it: no letter that lists use (j, k, x, f)
KEYS = (
    ("h", "Home", "home", TECHNICIAN),
    ("n", "New job", "job-new", TECHNICIAN),
    ("b", "Jobs", "jobs", TECHNICIAN),
    ("s", "Stock", "stock", TECHNICIAN),
    ("u", "Units", "units", TECHNICIAN),
    ("r", "Receive a delivery", "receipt-new", OFFICE),
    ("o", "Orders", "orders", OFFICE),
    ("i", "New invoice", "invoice-new", OFFICE),
    ("c", "Count", "counting", OFFICE),
    ("a", "Send away", "shipment-new", OFFICE),
    ("d", "Differences", "differences", OFFICE),
    ("m", "Month end", "month-end", OFFICE),
    ("p", "Reports", "reports", OFFICE),
    ("l", "Ledger", "ledger", OWNER),
)


@dataclass(frozen=True)
class Key:
    """A key that leads to a page from every other one."""

    key: str
    label: str
    url: str


def address_of(name: str, *args: object) -> str:
    """The address of a page by its name; blank where there is none."""
    try:
        return reverse(name, args=args)
    except NoReverseMatch:
        return ""


def keys_of(role: str) -> list[Key]:
    """The keys that a role has, with what each leads to."""
    found = [Key(key, label, address_of(name)) for key, label, name, roles in KEYS if role in roles]
    return [one for one in found if one.url]
