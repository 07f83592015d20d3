"""Whom and what a log names beside containers: the shop, people, parties, scales, customers and units.

A file that is there is complete: another name is a fault. A file that is missing is made up from the names used.
A row at fault hides no other: what it names is known all the same, for the rows that name it again. Since nothing is
loaded then, it does no harm that its figures are made up.
"""

import datetime as dt
from zoneinfo import available_timezones

from inventory.containers.models import Scale
from inventory.measures.days import FIRST_MADE
from inventory.measures.quantity import parse_mass
from inventory.parties.models import Party
from inventory.reference.rulebook import rulebooks
from inventory.shop.models import DEFAULT_RULEBOOK, Shop
from inventory.text.refusal import Refused
from jobs.people.actions import add_certificate, add_person
from jobs.people.models import STAFF, Person
from jobs.units.actions import add_customer, add_unit, change_unit
from jobs.units.models import Customer, Unit
from jobs.units.queries import same_unit
from jobs.units.vin import normalized
from shopledger.logbook.cells import Cells
from shopledger.logbook.folder import Faults, Folder, Row

CERTIFICATE = ("scheme", "certificate", "issuer", "issued", "expires")
USUAL_SCALE = "shop scale"
PARTY_ROLES = {"return": "supplier", "reclaim": "reclaimer", "destroy": "destroyer", "sell": "buyer"}


class Names:
    """Everyone and everything that may be named, by name."""

    def __init__(self, folder: Folder, faults: Faults, today: dt.date):
        self.folder, self.faults, self.today = folder, faults, today
        self.readability, self.capacity = 1000, None
        self._shop()
        self._stand_in()
        self.people = {person.username: person for person in Person.objects.all()}
        self.parties: dict[str, dict[str, str]] = {}  # by name and role the code
        for name, role, code in Party.objects.values_list("name", "role", "code"):
            self.parties.setdefault(name, {})[role] = code
        self.scales = set(Scale.objects.values_list("code", flat=True))
        self._people()
        self._parties()
        self._scales()
        self._units: dict[tuple[str, str], Unit] = {}
        self._vins: dict[str, Unit] = {}
        self._customers: dict[str, Customer | None] = {"": None}
        self.registered: dict[str, Unit] = {}  # by what units.csv calls them

    def _cells(self, row: Row) -> Cells:
        return Cells(row, self.faults, self.today)

    # -- the shop --------------------------------------------------------------------------------

    def _shop(self) -> None:
        rows = self.folder.of("shop.csv")
        if self.folder.has("shop.csv") and not rows:
            self.faults.add("shop.csv", 2, "name", "the row about the shop is missing.")
        for row in rows[1:]:
            self.faults.add("shop.csv", row.line, "name", "a log is of one shop; keep one row.")
        if not rows:
            return
        cells = self._cells(rows[0])
        name = cells.text("name", needed=True, most=200)
        zone = cells.text("timezone") or "UTC"
        if zone not in available_timezones():
            cells.fault("timezone", f"{zone[:60]!r} is no time zone; write one such as Europe/Dublin.")
        book = cells.text("rulebook") or DEFAULT_RULEBOOK
        if book not in rulebooks():
            cells.fault("rulebook", f"{book[:60]!r} is no rulebook; write one of {', '.join(rulebooks())}.")
        readability = cells.parsed("readability", parse_mass, needed=True)
        if readability == 0:
            cells.fault("readability", "a scale's smallest step is more than nothing; write e.g. 1 g.")
        self.capacity = cells.parsed("capacity", parse_mass)
        currency = cells.text("currency", most=3)
        cells.text("usual_scale", most=40)
        standing = Shop.objects.filter(id=1).first()
        if standing and standing.name != name:
            cells.fault(
                "name", f"this database is the ledger of {standing.name}, not of {name[:60]}; load it elsewhere."
            )
        if not cells.whole:
            return
        self.readability = readability
        if standing is None:
            more = {"currency": currency} if currency else {}
            Shop.objects.create(id=1, name=name, address=cells.text("address"), timezone=zone, rulebook=book, **more)
        if not Scale.objects.filter(usual=True).exists():
            Scale.objects.update_or_create(
                code=cells.said("usual_scale") or USUAL_SCALE,
                defaults={"readability_mg": readability, "capacity_mg": self.capacity, "usual": True},
            )

    def _stand_in(self) -> None:
        """A usual scale, where the row about the shop is at fault: so the weights of the other files can be judged."""
        if self.faults and not Scale.objects.filter(usual=True).exists():
            defaults = {"readability_mg": self.readability, "usual": True}
            Scale.objects.update_or_create(code=USUAL_SCALE, defaults=defaults)

    # -- people ----------------------------------------------------------------------------------

    def _people(self) -> None:
        seen: dict[str, tuple[str, str]] = {}
        for row in self.folder.of("people.csv"):
            cells = self._cells(row)
            username = cells.text("username", needed=True, most=150)
            role = cells.one_of("role", [role.value for role in STAFF], needed=False) or "technician"
            name = cells.text("name", most=150) or username
            said = (name, role)
            standing = self.people.get(username) if username not in seen else None
            if cells.known("name", "role") and seen.setdefault(username, said) != said:
                cells.fault("username", f"{username} stands above with another name or role; make the rows agree.")
            if standing and standing.role != role and cells.known("role"):
                cells.fault("role", f"{username} is {standing.role} here already; write that role.")
            self._person(cells, username, name, role)

    def _person(self, cells: Cells, username: str, name: str, role: str) -> None:
        scheme, number = cells.text("scheme", most=80), cells.text("certificate", most=80)
        issued, expires = cells.day("issued", first=FIRST_MADE), cells.day("expires")
        if bool(scheme) != bool(number):
            cells.fault("certificate" if scheme else "scheme", "a certificate has a scheme and a number; fill in both.")
        if scheme and not issued and not self.cells_has(cells, "issued"):
            cells.fault("issued", "the day the certificate was issued is needed.")
        if not cells.known("username", "name", *CERTIFICATE):
            self.people.setdefault(username, None)
            return
        try:
            person = self.people.get(username)
            if person is None:
                person = self.people[username] = add_person(by=None, username=username, name=name, role=role)
            if scheme and not person.certificates.filter(scheme=scheme, number=number).exists():
                add_certificate(
                    by=None,
                    person=person,
                    scheme=scheme,
                    number=number,
                    issuer=cells.text("issuer"),
                    issued=issued,
                    expires=expires,
                )
        except Refused as refused:
            field = {"number": "certificate"}.get(refused.field, refused.field)
            cells.fault(field if field in cells.row.cells else "username", refused.message)

    @staticmethod
    def cells_has(cells: Cells, column: str) -> bool:
        return bool(cells.row[column])

    def person(self, cells: Cells, column: str, *, needed: bool = False) -> Person | None:
        """The person of this username; made up where the log has no file of people."""
        username = cells.text(column, needed=needed, most=150)
        if not username:
            return None
        if username not in self.people:
            if not cells.known(column) or not self.folder.tells_all("people.csv", "username"):
                return None
            if self.folder.has("people.csv"):
                known = ", ".join(sorted(self.people)) or "nobody"
                cells.fault(column, f"{username[:60]!r} is not in people.csv; add a row, or write one of: {known}.")
                return None
            alike = next((one for one in self.people if one.casefold() == username.casefold()), None)
            if alike is not None:
                cells.fault(column, f"{username[:60]!r} is {alike} in other letters; write {alike}.")
                return None
            # Names of a log are kept as they stand, also where nobody could sign in by them: reports count by them.
            self.people[username] = Person.objects.create_user(username, name=username, role="technician")
        return self.people[username]

    # -- parties and scales ----------------------------------------------------------------------

    def _parties(self) -> None:
        for row in self.folder.of("parties.csv"):
            cells = self._cells(row)
            name = cells.text("name", needed=True, most=200)
            role = cells.one_of("role", ("supplier", "reclaimer", "destroyer", "buyer"))
            address, registration = cells.text("address", most=1000), cells.text("registration", most=100)
            known_as = self.parties.setdefault(name, {})
            if cells.whole and role not in known_as:
                made = Party.objects.create(name=name, role=role, address=address, registration=registration)
                known_as[role] = made.code

    def party(self, cells: Cells, column: str, role: str) -> str:
        """The code of the party of this name; made up where the log has no file of parties."""
        name = cells.text(column, needed=True, most=200)
        if not name or name in self.parties:
            return self.party_code(name, role)
        if not cells.known(column) or not self.folder.tells_all("parties.csv", "name"):
            return ""
        if self.folder.has("parties.csv"):
            known = ", ".join(sorted(self.parties)) or "nobody"
            cells.fault(column, f"{name[:60]!r} is not in parties.csv; add a row, or write one of: {known}.")
            return ""
        if not role:
            return ""
        self.parties[name] = {role: Party.objects.create(name=name, role=role).code}
        return self.party_code(name, role)

    def party_code(self, name: str, role: str) -> str:
        """The code of the party of this name: of this role where there is one, else of another."""
        known_as = self.parties.get(name, {})
        return known_as.get(role) or next(iter(known_as.values()), "")

    def _scales(self) -> None:
        seen = set()
        for row in self.folder.of("scales.csv"):
            cells = self._cells(row)
            code = cells.text("code", needed=True, most=40)
            if code in seen:
                cells.fault("code", f"{code} stands above already; each scale has one row.")
            seen.add(code)
            readability = cells.parsed("readability", parse_mass, needed=True)
            if readability == 0:
                cells.fault("readability", "a scale's smallest step is more than nothing; write e.g. 1 g.")
            capacity, until = cells.parsed("capacity", parse_mass), cells.day("checked_until")
            if cells.known("code") and code not in self.scales:
                step = readability or self.readability
                Scale.objects.create(code=code, readability_mg=step, capacity_mg=capacity, checked_until=until)
                self.scales.add(code)

    def scale(self, cells: Cells, column: str = "scale") -> str:
        code = cells.text(column, most=40)
        if not code or code in self.scales:
            return code
        if not cells.known(column) or not self.folder.tells_all("scales.csv", "code"):
            return ""
        if self.folder.has("scales.csv"):
            known = ", ".join(sorted(self.scales)) or "none"
            cells.fault(column, f"{code[:60]!r} is not in scales.csv; add a row, or write one of: {known}.")
            return ""
        Scale.objects.create(code=code, readability_mg=self.readability, capacity_mg=self.capacity)
        self.scales.add(code)
        return code

    # -- customers and units ---------------------------------------------------------------------

    def unit(self, cells: Cells, substance: str, least: int | None, most: int | None) -> Unit | None:
        """The unit of a job: by its VIN, else by the customer and what the log calls it."""
        customer, called = cells.text("customer", most=150), cells.text("unit", most=150)
        vin = normalized(cells.text("vin", most=40))
        if not called and not vin:
            cells.fault("unit", "this is blank; name the unit by its plate or description, or give its VIN.")
        if not cells.known("customer", "unit", "vin", "substance", "charge_min", "charge_max"):
            return None
        if called in self.registered:
            return self.registered[called]
        unit = self._vins.get(vin) if vin else self._units.get((customer, called))
        try:
            if unit is None:
                owner = self._customer(customer)
                unit = same_unit(vin=vin, name=called, customer=owner) if owner or not customer else None
                unit = unit or add_unit(by=None, customer=customer or None, name=called or vin, vin=vin)
                self._customers.setdefault(customer, unit.customer)
            changes = {
                name: value
                for name, value in (
                    ("refrigerant", substance),
                    ("charge_min_mg", least),
                    ("charge_max_mg", most),
                )
                if value not in ("", None) and getattr(unit, name) != value
            }
            if changes:
                unit = change_unit(unit, by=None, **changes)
        except Refused as refused:
            column = {"charge_min_mg": "charge_min", "charge_max_mg": "charge_max", "name": "unit"}.get(
                refused.field, refused.field
            )
            cells.fault(column if column in cells.row.cells else "unit", refused.message)
            return None
        self._units[customer, called] = unit
        if vin:
            self._vins[vin] = unit
        return unit

    def customer_code(self, cells: Cells, column: str = "customer") -> str:
        """The code of a customer; made up where nothing says more of them."""
        name = cells.text(column, most=150)
        if not name or not cells.known(column):
            return ""
        if self._customer(name) is None:
            self._customers[name] = add_customer(by=None, name=name)
        return self._customers[name].code

    def called(self, key: str, customer: Customer) -> None:
        """What the log's other files call a customer."""
        self._customers[key] = customer

    def _customer(self, name: str) -> Customer | None:
        if name not in self._customers:
            found = Customer.objects.filter(name=name).first()
            if found is None:
                return None
            self._customers[name] = found
        return self._customers[name]
