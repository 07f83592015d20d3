"""The ledger's tables. Vouchers, movements, records and seals are written once; triggers refuse anything else."""

import datetime as dt
import uuid

from django.db import models
from django.db.models import F, Q

from inventory.ledger.accounts import HOLDING, AccountClass, Spot

ACCOUNT_CLASSES = [(c.value, c.word) for c in AccountClass]


VOUCHER_KINDS = (
    "opening",
    "receipt",
    "move",
    "decant",
    "job",
    "regrade",
    "count",
    "shipment",
    "release",
    "retirement",
    "tare",
    "reclassification",
    "reversal",
    "restatement",
    "record",
    "seal",
    "handout",
    "erasure",
    "restore",
    "taking-in",
    "setting-apart",
    "giving-back",
    "found",
    "identification",
)


# What states or closes something, and moves nothing: it is not taken back.
BESIDE_STOCK = frozenset({"record", "seal", "handout", "erasure", "restore"})


class Substance(models.Model):
    """A refrigerant by its designation, or an oil by family and grade. Oils are counted in microlitres."""

    code = models.CharField(max_length=40, unique=True)
    is_oil = models.BooleanField(default=False)

    def __str__(self) -> str:
        return self.code


class Account(models.Model):
    """A place where a quantity of one substance can be. Its balance is kept with each posting."""

    key = models.CharField(max_length=700, unique=True)
    substance = models.ForeignKey(Substance, on_delete=models.PROTECT, related_name="+")
    cls = models.PositiveSmallIntegerField("class", choices=ACCOUNT_CLASSES)
    name = models.CharField(max_length=300, blank=True)
    location = models.CharField(max_length=100, blank=True)
    grade = models.CharField(max_length=20, blank=True)
    owner = models.CharField(max_length=40, blank=True, help_text="whose gas it is, where it is not the shop's")
    balance = models.BigIntegerField(default=0)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~Q(cls__in=[c.value for c in sorted(HOLDING)]) | Q(balance__gte=0),
                name="account_container_not_below_zero",
            ),
            models.CheckConstraint(condition=Q(cls__in=[c.value for c in AccountClass]), name="account_class_known"),
        ]
        indexes = [
            models.Index(fields=["cls", "name"], name="account_by_name"),
            models.Index(  # cls leads, though it is one value: so SQLite finds all that it needs in the index itself
                fields=["cls", "substance", "balance"],
                name="account_holding",
                condition=Q(cls=AccountClass.CONTAINER.value, balance__gt=0),
            ),
        ]

    def __str__(self) -> str:
        return self.key

    @property
    def spot(self) -> Spot:
        """Needs the substance loaded."""
        return Spot(self.substance.code, AccountClass(self.cls), self.name, self.location, self.grade, self.owner)


def stands(prefix: str = "", through: dt.date | None = None) -> Q:
    """Whether a voucher stands: nothing took it back, or only what is dated after a day. prefix: the way to the
    voucher, e.g. `voucher__`."""
    found = Q(**{f"{prefix}reversed_by": None})
    return found | Q(**{f"{prefix}reversed_by__day__gt": through}) if through else found


class Vouchers(models.QuerySet):
    """Vouchers, and those of them that stand."""

    def standing(self, through: dt.date | None = None) -> "Vouchers":
        return self.filter(stands(through=through))


class Voucher(models.Model):
    """An entry: the dated document that groups movements and records. Numbered without gaps, chained by digest
    (canonical.py).

    recorded_at is text, UTC, so that what the digest stands for is the same byte for byte in every database. note holds
    words of any kind, so it is none of the digest's text: a record of its own stands for it, which can be erased.
    """

    number = models.BigIntegerField(primary_key=True)
    day = models.DateField()
    kind = models.CharField(max_length=20, choices=[(kind, kind) for kind in VOUCHER_KINDS])
    recorded_at = models.CharField(max_length=27)  # see `recorded` for pages
    recorded_by = models.CharField(max_length=150)
    done_by = models.CharField(max_length=150, blank=True)
    document = models.CharField(max_length=200, blank=True)
    note = models.TextField(blank=True)
    reverses = models.OneToOneField("self", on_delete=models.PROTECT, null=True, related_name="reversed_by")
    key = models.CharField(max_length=64, unique=True)
    detail = models.TextField(default="{}")
    first_revision = models.ForeignKey(
        "self",
        on_delete=models.PROTECT,
        null=True,
        related_name="revisions",
        help_text="of a corrected entry: its first revision, which its papers name",
    )
    digest = models.CharField(max_length=64, unique=True)

    objects = Vouchers.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(number__gte=1), name="voucher_number_from_one"),
            models.CheckConstraint(
                condition=Q(reverses__isnull=True) | Q(reverses__lt=F("number")),
                name="voucher_reverses_earlier",
            ),
            models.CheckConstraint(condition=Q(kind__in=VOUCHER_KINDS), name="voucher_kind_known"),
        ]
        indexes = [
            models.Index(fields=["day", "number"], name="voucher_by_day"),
            models.Index(fields=["done_by", "day"], name="voucher_by_person"),
            models.Index(fields=["kind", "number"], name="voucher_of_kind"),
            models.Index(fields=["document", "number"], name="voucher_of_paper", condition=models.Q(document__gt="")),
        ]

    def __str__(self) -> str:
        return f"voucher {self.number}"

    @property
    def recorded(self) -> dt.datetime:
        """The moment of recording, UTC."""
        return dt.datetime.strptime(self.recorded_at, "%Y-%m-%dT%H:%M:%S.%fZ").replace(tzinfo=dt.UTC)


class Record(models.Model):
    """A document under a voucher's digest: what somebody stated of something beside the ledger, e.g. a certificate as
    it was entered or changed then. Written once.

    kind, key: what it is about, by a code: the latest record of a key counts. salt: blank where it stays for good, else
    32 hexadecimal digits. body: canonical JSON; `null` where the thing was removed. Both NULL: it was erased, and an
    entry says so. digest: of salt and body (canonical.py).
    """

    voucher = models.ForeignKey(Voucher, on_delete=models.PROTECT, related_name="records", db_index=False)
    line = models.PositiveIntegerField()
    kind = models.CharField(max_length=20)
    key = models.CharField(max_length=200)
    salt = models.CharField(max_length=32, null=True, blank=True)  # noqa: DJ001 (NULL: erased; blank says more)
    body = models.TextField(null=True)  # noqa: DJ001
    digest = models.CharField(max_length=64)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["voucher", "line"], name="record_line_once"),
            models.CheckConstraint(
                condition=Q(salt__isnull=False, body__isnull=False) | Q(salt__isnull=True, body__isnull=True),
                name="record_erased_whole",
            ),
        ]
        indexes = [
            models.Index(fields=["kind", "key", "-voucher", "-line"], name="record_latest"),
            models.Index(fields=["key", "kind"], name="record_of_key"),
        ]

    def __str__(self) -> str:
        return f"record {self.kind} {self.key} of voucher {self.voucher_id}"


class Movement(models.Model):
    """A quantity of one substance from one account to another. day and both classes repeat what voucher and
    accounts say, so that a report is one statement over one covering index; `verify` proves them too."""

    voucher = models.ForeignKey(Voucher, on_delete=models.PROTECT, related_name="movements", db_index=False)
    line = models.PositiveSmallIntegerField()
    day = models.DateField()
    substance = models.ForeignKey(Substance, on_delete=models.PROTECT, related_name="+", db_index=False)
    source = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+", db_index=False)
    target = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+", db_index=False)
    source_class = models.PositiveSmallIntegerField(choices=ACCOUNT_CLASSES)
    target_class = models.PositiveSmallIntegerField(choices=ACCOUNT_CLASSES)
    quantity = models.BigIntegerField()
    reversal = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["voucher", "line"], name="movement_line_once"),
            models.CheckConstraint(condition=Q(quantity__gt=0), name="movement_quantity_positive"),
            models.CheckConstraint(condition=~Q(source=F("target")), name="movement_between_two_accounts"),
        ]
        indexes = [
            # Each holds every column that its question reads, so that the table itself is not touched.
            models.Index(
                fields=["day", "substance", "source_class", "target_class", "reversal", "quantity"],
                name="movement_report",
            ),
            models.Index(fields=["source", "day", "quantity"], name="movement_out_of"),
            models.Index(fields=["target", "day", "quantity"], name="movement_into"),
        ]

    def __str__(self) -> str:
        return f"movement {self.voucher_id}/{self.line}"


def new_ledger_id() -> str:
    return str(uuid.uuid4())


class ChainHead(models.Model):
    """One row: whose ledger this is, and the last voucher's number, digest and moment. Whoever posts holds its lock.

    ledger_id: random, given once; the chain begins with it. rulebook: SHA-256 of the rulebook's text that the last
    voucher was posted under."""

    ledger_id = models.CharField(max_length=36, default=new_ledger_id)
    rulebook = models.CharField(max_length=64, blank=True)
    number = models.BigIntegerField(default=0)
    digest = models.CharField(max_length=64)
    recorded_at = models.CharField(max_length=27, blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(id=1), name="chain_head_is_one_row")]

    def __str__(self) -> str:
        return f"head at {self.number}"


class Seal(models.Model):
    """All days up to and including `through` are closed. Keeps the head and what stood in each account then."""

    through = models.DateField(unique=True)
    number = models.BigIntegerField(help_text="the last voucher's number when the seal was made")
    digest = models.CharField(max_length=64)
    balances_sha256 = models.CharField(max_length=64, help_text="of what it keeps of accounts, as `seals.py` says it")
    totals_sha256 = models.CharField(max_length=64, help_text="of what it keeps of flows")
    owes = models.JSONField(default=list, help_text="the report files that are to be kept of its period")
    made_at = models.CharField(max_length=27)
    made_by = models.CharField(max_length=150)

    def __str__(self) -> str:
        return f"sealed through {self.through}"


class SealBalance(models.Model):
    """What stood in one account at the end of a seal's last day; accounts that stood at zero have no row."""

    seal = models.ForeignKey(Seal, on_delete=models.PROTECT, related_name="balances")
    account = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    balance = models.BigIntegerField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["seal", "account"], name="seal_account_once")]

    def __str__(self) -> str:
        return f"{self.seal_id}: {self.account_id} = {self.balance}"


class SealTotal(models.Model):
    """What moved between two classes of account, per substance, since the seal before."""

    seal = models.ForeignKey(Seal, on_delete=models.PROTECT, related_name="totals")
    substance = models.ForeignKey(Substance, on_delete=models.PROTECT, related_name="+")
    source_class = models.PositiveSmallIntegerField()
    target_class = models.PositiveSmallIntegerField()
    reversal = models.BooleanField()
    quantity = models.BigIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["seal", "substance", "source_class", "target_class", "reversal"],
                name="seal_total_once",
            )
        ]

    def __str__(self) -> str:
        return f"{self.seal_id}: {self.quantity}"
