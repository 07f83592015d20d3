"""How full a container is, of the most that may be, or was, in it."""

import datetime as dt

from inventory.containers.filled import Fill
from inventory.containers.models import Container
from inventory.paper import vessel
from inventory.paper.chart import Picture
from inventory.reference.rulebook import Rulebook


class Fullness:
    """By the rulebook of one day. Asks the database nothing: a list shows it for each row."""

    def __init__(self, rules: Rulebook, day: dt.date):
        self.rules, self.day = rules, day
        self.limits: dict[str, tuple] = {}

    def most(self, container: Container) -> tuple[str, int] | None:
        """What the most is, and the most, mg or uL: the safe fill of what is filled here, or what it came with where
        nothing is put into it again; None where neither is known, or where it is not known what is in it."""
        if container.unknown or container.substance is None:
            return None
        if not container.is_oil:
            if container.kind not in self.limits:
                self.limits[container.kind] = self.rules.safe_fill(container.kind, self.day)
            gas, rules = container.substance.code, self.limits[container.kind]
            if found := Fill(container.cylinder, gas, container.content, rules).limits:
                return "safe fill", found[0].mg
        if container.nominal and not container.traits.recovers:
            return "came with", max(container.nominal, container.content)
        return None

    def picture(self, container: Container) -> Picture | None:
        found = self.most(container)
        title = f"How full {container.code} is"
        return vessel.picture(title, container.content, found, bool(container.is_oil)) if found else None
