"""The accounts that a writer has loaded: their rows, what it moves on them, and that none of a container stands below
zero, on any day."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.db import connection

from inventory.ledger.accounts import HOLDING, Spot, Transfer
from inventory.ledger.models import Account, Substance
from inventory.measures.days import said_day
from inventory.measures.quantity import exact
from inventory.reference.substances import substance
from inventory.text.clean import clean
from inventory.text.refusal import Refused


@dataclass
class KnownAccount:
    """An account as the writer sees it: its row, and what this transaction changes."""

    id: int
    spot: Spot
    substance_id: int
    balance: int
    delta: int = 0


class OpenAccounts:
    """known: the accounts by their spot, as the writer that holds the head sees them."""

    def __init__(self) -> None:
        self.known: dict[Spot, KnownAccount] = {}
        self._substances: dict[str, int] = {}

    # -- loading ---------------------------------------------------------------------------------

    def substance_id(self, code: str) -> int:
        """The row of a substance, made where there is none yet."""
        if code not in self._substances:
            canonical_code, is_oil = substance(code)
            row, _ = Substance.objects.get_or_create(code=canonical_code, defaults={"is_oil": is_oil})
            self._substances[code] = row.id
        return self._substances[code]

    def know_substance(self, row: Substance) -> None:
        """Spare a question for the row of a substance that is at hand."""
        self._substances[row.code] = row.id

    def load(self, spots: set[Spot]) -> None:
        """Bring accounts in; those that are not there are made."""
        missing = [spot for spot in spots if spot not in self.known]
        if not missing:
            return
        by_key = {_fitting_key(spot): spot for spot in missing}
        marks = ", ".join(["%s"] * len(by_key))
        with connection.cursor() as cursor:
            cursor.execute(
                f"SELECT key, id, balance, substance_id FROM inventory_account WHERE key IN ({marks})",
                list(by_key),
            )
            for key, account_id, balance, substance_id in cursor.fetchall():
                spot = by_key.pop(key)
                self.known[spot] = KnownAccount(account_id, spot, substance_id, balance)
            for key in sorted(by_key):
                spot = by_key[key]
                substance_id = self.substance_id(spot.substance)
                cursor.execute(
                    "INSERT INTO inventory_account (key, substance_id, cls, name, location, grade, owner, balance) "
                    "VALUES (%s, %s, %s, %s, %s, %s, %s, 0) RETURNING id",
                    [key, substance_id, int(spot.cls), spot.name, spot.location, spot.grade, spot.owner],
                )
                self.known[spot] = KnownAccount(cursor.fetchone()[0], spot, substance_id, 0)

    def account_id(self, spot: Spot) -> int:
        """The row of an account, made where there is none yet."""
        self.load({spot})
        return self.known[spot].id

    # -- moving ----------------------------------------------------------------------------------

    def changed(self) -> list[KnownAccount]:
        """Those whose balance is yet to be written."""
        return [known for known in self.known.values() if known.delta]

    # -- nothing below zero ----------------------------------------------------------------------

    def falls_below(self, transfers: Iterable[Transfer], day: dt.date) -> bool:
        """Whether a container account would stand below zero on a later day, if these were dated on a day before it.
        What was moved must have been written."""
        changes: dict[Spot, int] = {}
        for transfer in transfers:
            for spot, change in ((transfer.source, -transfer.quantity), (transfer.target, transfer.quantity)):
                if spot.cls in HOLDING:
                    changes[spot] = changes.get(spot, 0) + change
        lowered = {spot: change for spot, change in changes.items() if change < 0}
        self.load(set(lowered))
        for spot, change in lowered.items():
            known = self.known[spot]
            after = known.balance + change
            for _, net in _daily_after(known.id, day):
                after -= net
                if after < 0:
                    return True
        return False

    def check_now(self, changes: Mapping[Spot, int]) -> None:
        """Nothing below zero now: the database would refuse it too. changes: what the last movements did. Raises
        Refused."""
        for spot, change in changes.items():
            known = self.known[spot]
            after = known.balance + known.delta
            if after < 0:
                raise Refused(
                    f"{spot.name} holds {self._said(known, after - change)}; {self._said(known, -change)} "
                    "cannot come out of it."
                    if change
                    else f"{spot.name} would stand at {self._said(known, -after)} below nothing; correct what was "
                    "recorded for it since, the latest entry first.",
                    "quantity",
                )

    def check_later(self, changes: Mapping[Spot, int], day: dt.date) -> None:
        """Nothing below zero on a day after this one. What was moved before must have been written. Raises Refused."""
        for spot, change in changes.items():
            known = self.known[spot]
            after = known.balance + known.delta
            for later, net in _daily_after(known.id, day):
                after -= net
                if after < 0:
                    raise Refused(
                        f"On {said_day(day)}, before what was recorded for {said_day(later)}, {spot.name} held only "
                        f"{self._said(known, after - change)}; date it {said_day(later)} or later, or correct the "
                        "entry of that day.",
                        "day",
                    )

    def _said(self, known: KnownAccount, value: int) -> str:
        return exact(max(value, 0), "mL" if known.substance_id in self._oils() else "g")

    def _oils(self) -> set[int]:
        return set(Substance.objects.filter(is_oil=True).values_list("id", flat=True))


def _fitting_key(spot: Spot) -> str:
    """The account's key, once its words are found fit to be kept."""
    for name, told in (("name", None), ("location", "location"), ("grade", "grade"), ("owner", None)):
        clean(getattr(spot, name), told, Account._meta.get_field(name).max_length)
    clean(spot.key, None, Account._meta.get_field("key").max_length)
    return spot.key


def _daily_after(account_id: int, day: dt.date) -> list[tuple[dt.date, int]]:
    """What each later day changed in one account, the last day first."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT day, SUM(change) FROM ("
            "SELECT day, quantity AS change FROM inventory_movement WHERE target_id = %s AND day > %s UNION ALL "
            "SELECT day, -quantity FROM inventory_movement WHERE source_id = %s AND day > %s"
            ") AS changes GROUP BY day ORDER BY day DESC",
            [account_id, day.isoformat(), account_id, day.isoformat()],
        )
        return [(as_day(d), int(total)) for d, total in cursor.fetchall()]


def as_day(value: object) -> dt.date | None:
    """A day as a cursor gives it: SQLite says it as text, PostgreSQL as a date."""
    return dt.date.fromisoformat(value) if isinstance(value, str) else value
