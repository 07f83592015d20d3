"""The ways through the site, by role."""

from dataclasses import dataclass

from django.urls import NoReverseMatch, reverse

TECHNICIAN = ("technician", "office", "owner")
OFFICE = ("office", "owner")
OWNER = ("owner",)
INSPECTOR = ("inspector",)


@dataclass(frozen=True)
class Entry:
    label: str
    url: str
    current: str  # value of aria-current: "page", "true" (a page within it), or nothing
    shown: str  # "always", "desk" (under More on a phone) or "more" (under More on every screen)

    @property
    def in_band(self) -> bool:
        return self.shown != "more"

    @property
    def under_more(self) -> bool:
        return self.shown != "always"

    @property
    def on_desk(self) -> bool:
        """Whether it stands in the band on a desk's screen only."""
        return self.shown == "desk"


# label, name of the URL, who sees it
WAYS = (
    ("Home", "home", TECHNICIAN),
    ("Jobs", "jobs", TECHNICIAN),
    ("Stock", "stock", TECHNICIAN),
    ("Units", "units", TECHNICIAN),
    ("Receiving", "receiving", OFFICE),
    ("Buying", "orders", OFFICE),
    ("Counting", "counting", OFFICE),
    ("Leaving", "leaving", OFFICE),
    ("Month end", "month-end", OFFICE),
    ("Reports", "reports", OFFICE),
    ("People", "people", OWNER),
    ("Settings", "settings", OWNER),
    ("Ledger", "ledger", OWNER),
    ("What happened", "trail", OWNER),
    ("Inspectors", "inspectors", OWNER),
    ("Health", "health", OWNER),
    ("Inspection", "inspect", INSPECTOR),
)


def ways(role: str, path: str) -> list[Entry]:
    """The entries for a role, the one that `path` lies under marked. Names without a page are left out."""
    found = []
    for label, name, roles in WAYS:
        if role not in roles:
            continue
        try:
            shown = {TECHNICIAN: "always", INSPECTOR: "always", OFFICE: "desk"}.get(roles, "more")
            found.append((label, reverse(name), shown))
        except NoReverseMatch:
            continue
    # /jobs/units/3/ lies under /jobs/; only the page itself lies under /
    above = [url for _, url, _ in found if path == url or (url != "/" and path.startswith(url))]
    here = max(above, key=len, default="")
    return [
        Entry(label, url, ("page" if path == url else "true") if url == here else "", shown)
        for label, url, shown in found
    ]
