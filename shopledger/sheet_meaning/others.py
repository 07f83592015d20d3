"""Sheets of people and their certificates, of units and customers, and of counts. Pure."""

import re

from shopledger.sheet_meaning.asking import LEFT_OUT
from shopledger.sheet_meaning.building import Builder, Line
from shopledger.sheet_meaning.naming import bare_name
from shopledger.sheet_meaning.reader import Skip
from shopledger.sheet_meaning.values import Unread, said_g
from shopledger.sheet_meaning.words import ENDLESS, ROLES, plain


class People(Builder):
    def __init__(self, *args):
        super().__init__(*args)
        self.given: dict[str, str] = {}  # user name by bare name

    def line(self, line: Line) -> None:
        name, username = line.text("name"), line.text("username")
        if not name and not username:
            raise Skip
        username = username or self._username(name)
        scheme, certificate = self._certificate(line)
        cells = {
            "username": username,
            "name": name or username,
            "role": self._role(line, username),
            "scheme": scheme,
            "certificate": certificate,
            "issuer": line.text("issuer"),
            "issued": self.falls_due(line, "issued"),
            "expires": "" if plain(line.text("expires")) in ENDLESS else self.falls_due(line, "expires"),
        }
        if not line.whole:
            return
        self.built.add("people.csv", line.row, **cells)
        papers = f", {scheme} {certificate}" if certificate else ""
        self.built.says[line.row] = f"{cells['name']} ({username}), {cells['role']}{papers}"

    def _username(self, name: str) -> str:
        """Of somebody who is here, or made of the name, the same for the same person in every row."""
        bare = bare_name(name)
        for username, full in self.known.people.items():
            if bare in {bare_name(full), bare_name(username)}:
                return username
        if bare not in self.given:
            said = " ".join(reversed(name.split(","))) if name.count(",") == 1 else name
            made = re.sub(r"[^a-z0-9]+", ".", plain(said)).strip(".")[:60] or bare[:60]
            while made in self.known.people or made in self.given.values():
                made += "2"
            self.given[bare] = made
        return self.given[bare]

    def _role(self, line: Line, username: str) -> str:
        said = line.text("role")
        if not said:
            return "" if username in self.known.people else "technician"
        words = plain(said)
        if words in ROLES:
            return ROLES[words]
        choices = [(role, role) for role in dict.fromkeys(ROLES.values())] + [(LEFT_OUT, "leave these rows out")]
        text = f"{said[:40]} in {{n}}: what may they do here?"
        answer = line.take("role", lambda: self.asking.ask(f"role:{words[:60]}", text, choices, line.place("role")), "")
        if answer == LEFT_OUT:
            raise Skip
        return answer

    def _certificate(self, line: Line) -> tuple[str, str]:
        scheme, number = line.text("scheme"), line.text("certificate")
        if number and not scheme and not self.reader.has("scheme"):
            text = "No column says what kind of certificate these are. What is written on them?"
            scheme = self.once(line, "scheme", text)
        return scheme, number


class Units(Builder):
    def line(self, line: Line) -> None:
        substance, oil = self.substance(line, needed=False) if self.reader.has("substance") else ("", False)
        if oil:
            line.take("substance", lambda: _refuse(f"{substance} is an oil; the refrigerant of the unit stands here."))
        factory = self.mass(line, "factory")
        cells = {
            "customer": self.named(line, "customer"),
            "unit": line.text("unit"),
            "vin": line.text("vin"),
            "make": line.text("make"),
            "model": line.text("model"),
            "year": line.text("year"),
            "substance": substance,
            "charge_min": self.mass(line, "charge_min") or factory,
            "charge_max": self.mass(line, "charge_max") or factory,
            "phone": line.text("phone"),
            "address": line.text("address"),
        }
        if not cells["unit"] and not cells["vin"]:
            line.take(
                "unit", lambda: _refuse("this is blank; name the unit by its plate or description, or give its VIN.")
            )
        if not line.whole:
            return
        self.built.add("units", line.row, **cells)
        self.built.says[line.row] = ", ".join(
            filter(None, (cells["unit"] or cells["vin"], cells["customer"], substance))
        )


class Counts(Builder):
    def line(self, line: Line) -> None:
        said = self.above(line, "container", line.text("container"))
        code = self.known.container(said) if said else ""
        held = self.known.containers.get(code)
        amount = self.amount(line, "gross", oil=bool(held and held.is_oil))
        if amount is None and line.whole:
            choices = ((LEFT_OUT, "they were not weighed: leave these rows out"),)
            text = "In {n} nothing was weighed. What is meant?"
            line.take("gross", lambda: self.asking.ask("blank:gross", text, choices, line.place("gross")))
            raise Skip
        cells = {
            "date": self.day(line),
            "container": code,
            "scale": line.text("scale"),
            "by": self.person(line, "by"),
            "note": line.text("note"),
        }
        if not line.whole or amount is None:
            return
        gross = said_g(amount[0], oil=bool(held and held.is_oil))
        self.built.add("counts.csv", line.row, **cells, gross=gross)
        self.built.says[line.row] = f"{code} weighed {gross}"


def _refuse(message: str):
    raise Unread(message)
