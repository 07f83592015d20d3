"""What the panels of one page are drawn from, where several are drawn from one question: each is asked when the first
panel wants it, and not again."""

import datetime as dt
from functools import cached_property

from django.http import HttpRequest

from inventory.audit.recording import SIGN_IN
from inventory.containers.queries import OnHand
from inventory.ledger.clocks import CLOCK, not_seen
from inventory.ledger.models import ChainHead, Record
from inventory.shop.clock import now
from inventory.shop.models import Shop
from inventory.supply.queries import Short, at_a_glance
from jobs.people.models import Person, Role
from shopledger.backup import upkeep
from shopledger.home import due
from shopledger.sealing import queries as sealing
from shopledger.signin.machine import told_lately


class Asked:
    """For one request, and no longer: nothing of it is kept."""

    def __init__(self, request: HttpRequest):
        self.person: Person = request.user
        self.shop: Shop = request.shop
        self.is_owner = self.person.role == Role.OWNER

    def here(self, moment: dt.datetime) -> dt.date:
        """The day of a moment in the shop's time zone."""
        return moment.astimezone(self.shop.zone).date()

    @cached_property
    def today(self) -> dt.date:
        return self.here(now())

    @cached_property
    def stock(self) -> tuple[list[OnHand], list[Short]]:
        return at_a_glance()

    @cached_property
    def head(self) -> ChainHead:
        """The ledger's head, with the latest seal and what is due beside it; for an owner the latest backup and trial,
        for others what ends of their own certificates."""
        own = upkeep.LATEST if self.is_owner else due.of_own_certificates(self.person, self.today)
        return ChainHead.objects.annotate(**own, **sealing.LATEST, **due.of_the_shop(self.today)).get(id=1)

    @cached_property
    def noted(self) -> list[Record]:
        """What the record says to an owner of clocks and of ways of signing in, the latest first. The kinds are named
        once more for the index: SQLite would not see them in the conditions."""
        found = Record.objects.filter(not_seen() | told_lately(), kind__in=[CLOCK, SIGN_IN])
        return list(
            found.select_related("voucher").only("kind", "key", "body", "voucher__day").order_by("-voucher_id", "-line")
        )
