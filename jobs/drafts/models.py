"""Jobs and what was entered on them. A draft is edited freely; a signed job is kept as it was signed."""

import uuid
from collections.abc import Iterable

from django.db import models
from django.db.models import Q

from inventory.containers.models import Container, Scale
from inventory.ledger.models import Voucher
from inventory.measures.fields import MassField, VolumeField
from inventory.scales.taking import shown
from jobs.lines.posting import ACTIONS, OIL_ACTIONS
from jobs.lines.totals import Totals, amount_of
from jobs.people.models import Person
from jobs.planning.pressure_test import MEDIA
from jobs.units.models import Unit

LEAK_RESULTS = [
    ("not checked", "not checked"),
    ("none found", "none found"),
    ("found and repaired", "found and repaired"),
    ("found, not repaired", "found, not repaired"),
]
# What is asked of a charge and of a recovery, and never inferred: which of them count in a leak rate
# (40 CFR 82.157(b), 84.106(b)). Blank: nothing was said, and a charge makes up for a leak.
CHARGE_WHY = [
    ("installation", "right after installing the unit"),
    ("retrofit", "right after a retrofit"),
    ("seasonal", "seasonal variance: puts back what was taken out last season"),
    ("leak", "makes up for a leak"),
]
RECOVER_WHY = [
    ("seasonal", "at the change of season"),
    ("disposal", "for disposal of the unit"),
]


class Job(models.Model):
    """One visit of one unit, in one revision. Corrected: the next revision is signed in its place, both stay.
    What is known of each field beside its column stands in fields.py.

    Readings beside the ledger (pressures in Pa absolute, temperatures in degrees Celsius) are floats: they
    are shown, never summed. `version` counts the draft's changes, so that nobody overwrites unseen work.
    """

    STATES = [("draft", "draft"), ("signed", "signed"), ("corrected", "corrected"), ("dropped", "dropped")]

    number = models.CharField(max_length=60)
    revision = models.PositiveSmallIntegerField(default=1)
    state = models.CharField(max_length=10, choices=STATES, default="draft")
    version = models.PositiveIntegerField(default=0)
    key = models.UUIDField(default=uuid.uuid4, unique=True)
    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="jobs")
    technician = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="jobs")
    day = models.DateField()
    started_at = models.DateTimeField()
    substance = models.CharField("refrigerant", max_length=40, blank=True)
    charge_min_mg = MassField("least charge on the label", null=True, blank=True)
    charge_max_mg = MassField("most charge on the label", null=True, blank=True)
    complaint = models.TextField("what the customer says", blank=True)
    unpaid = models.BooleanField(
        "not for pay", default=False, help_text="Some rules bind only who works for consideration (40 CFR 82.34(a))."
    )

    identified_as = models.CharField(
        "refrigerant found",
        max_length=40,
        blank=True,
        help_text="As the identifier says, e.g. R-134a, mixed or unknown.",
    )
    identified_how = models.CharField(
        "identified how", max_length=80, blank=True, help_text="Identifier, label, service record."
    )
    purity_percent = models.FloatField("purity", null=True, blank=True)
    system_opened = models.BooleanField("the system was open", default=False)
    repairs = models.TextField("repairs", blank=True)
    parts = models.JSONField("parts replaced", default=list, blank=True)  # keys of oil_plan.parts
    compressor_drained_ul = VolumeField("oil drained from the old compressor", null=True, blank=True)
    accumulator_drained_ul = VolumeField("oil drained from the old accumulator", null=True, blank=True)
    leak_method = models.CharField("leak check by", max_length=80, blank=True)
    leak_detector = models.CharField("detector", max_length=80, blank=True)
    leak_result = models.CharField("leak check", max_length=20, choices=LEAK_RESULTS, default="not checked")

    recover_why = models.CharField("this recovery is", max_length=12, choices=RECOVER_WHY, blank=True)
    charge_why = models.CharField("this charge is", max_length=12, choices=CHARGE_WHY, blank=True)
    same_leak = models.BooleanField("tops up the same leak as the visit before", default=False)
    seasonal_statement = models.TextField(
        "statement of the seasonal variance",
        blank=True,
        help_text="That this puts back no more than was taken out at the last change of season, and both amounts "
        "(40 CFR 82.157(l)(10), 84.106(l)(12)).",
    )

    test_medium = models.CharField("tested with", max_length=16, choices=list(MEDIA.items()), blank=True)
    test_other = models.CharField(
        "which other gas", max_length=60, blank=True, help_text="Never oxygen, air or fuel gas."
    )
    test_started = models.DateTimeField("test pressure reached", null=True, blank=True)
    test_start_said = models.CharField(
        "pressure at the start", max_length=30, blank=True, help_text="By the gauge, e.g. 20 bar or 300 psi"
    )
    test_start_pa = models.FloatField(null=True, blank=True)
    test_start_c = models.FloatField("temperature at the start", null=True, blank=True)
    test_ended = models.DateTimeField("test pressure read again", null=True, blank=True)
    test_end_said = models.CharField("pressure at the end", max_length=30, blank=True)
    test_end_pa = models.FloatField(null=True, blank=True)
    test_end_c = models.FloatField("temperature at the end", null=True, blank=True)

    evacuation_c = models.FloatField("air at the unit", null=True, blank=True)
    evacuation_started = models.DateTimeField("pump started", null=True, blank=True)
    evacuation_ended = models.DateTimeField("pump stopped", null=True, blank=True)
    vacuum_said = models.CharField(
        "vacuum reached", max_length=30, blank=True, help_text="e.g. 500 micron, 0.7 mbar or 28.9 inHg"
    )
    vacuum_pa = models.FloatField(null=True, blank=True)
    hold_started = models.DateTimeField(null=True, blank=True)
    hold_ended = models.DateTimeField(null=True, blank=True)
    hold_start_said = models.CharField("reading at the start of the hold", max_length=30, blank=True)
    hold_start_pa = models.FloatField(null=True, blank=True)
    hold_end_said = models.CharField("reading at the end of the hold", max_length=30, blank=True)
    hold_end_pa = models.FloatField(null=True, blank=True)

    ambient_c = models.FloatField("ambient temperature", null=True, blank=True)
    vent_c = models.FloatField("vent temperature", null=True, blank=True)
    humidity_percent = models.FloatField("relative humidity", null=True, blank=True)
    static_said = models.CharField(
        "pressure at rest",
        max_length=30,
        blank=True,
        help_text="Before the work or long after it, both sides alike, e.g. 5.9 bar",
    )
    static_pa = models.FloatField(null=True, blank=True)
    low_side_said = models.CharField("low side", max_length=30, blank=True, help_text="e.g. 2.1 bar or 30 psi")
    high_side_said = models.CharField("high side", max_length=30, blank=True, help_text="e.g. 13 bar or 190 psi")
    note = models.TextField(blank=True)
    reasons = models.JSONField(default=dict, blank=True)  # objection key to the reason given for it

    voucher = models.OneToOneField(Voucher, on_delete=models.PROTECT, null=True, related_name="job")
    signed_at = models.DateTimeField(null=True)
    signed_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="+")
    certificate = models.CharField("certificate signed under", max_length=200, blank=True)
    # What the rulebook said then, opened (signing/judged.py): for its page and sheet, which say the same for good.
    verdicts = models.JSONField("what the rulebook said", default=list, blank=True)

    # What the lines come to (lines/totals.py), kept when it is signed: for questions over many jobs.
    charged_mg = MassField("what reached the unit", null=True)
    recovered_mg = MassField(null=True)
    line_loss_mg = MassField(null=True)
    oil_added_ul = VolumeField(null=True)
    oil_drained_ul = VolumeField(null=True)

    corrects = models.OneToOneField("self", on_delete=models.PROTECT, null=True, related_name="corrected_by")
    correction_note = models.TextField("why it is corrected", blank=True)
    follows = models.BigIntegerField(
        null=True,
        help_text="where its times do not tell: the voucher of that day after which it came, 0 for before all",
    )
    loaded = models.BooleanField(default=False, help_text="from a log of earlier days: history is history")

    class Meta:
        ordering = ["-day", "-id"]
        constraints = [
            models.UniqueConstraint(fields=["number", "revision"], name="job_number_once"),
            models.CheckConstraint(
                condition=Q(state__in=["draft", "signed", "corrected", "dropped"]), name="job_state_known"
            ),
            models.CheckConstraint(
                condition=Q(voucher__isnull=False) | ~Q(state__in=["signed", "corrected"]),
                name="job_signed_has_voucher",
            ),
            models.CheckConstraint(
                condition=Q(**{f"{name}__isnull": False for name in Totals().columns()})
                | ~Q(state__in=["signed", "corrected"]),
                name="job_signed_has_totals",
            ),
            models.CheckConstraint(
                condition=Q(charge_why__in=["", *dict(CHARGE_WHY)], recover_why__in=["", *dict(RECOVER_WHY)]),
                name="job_why_known",
            ),
            models.CheckConstraint(condition=Q(test_medium__in=["", *MEDIA]), name="job_test_medium_known"),
            models.CheckConstraint(
                condition=Q(charge_min_mg__isnull=True)
                | Q(charge_max_mg__isnull=True)
                | Q(charge_min_mg__lte=models.F("charge_max_mg")),
                name="job_charge_least_not_over_most",
            ),
        ]
        indexes = [
            models.Index(fields=["technician", "state", "-day"], name="job_of_technician"),
            models.Index(fields=["state", "-id"], name="job_in_state"),
            models.Index(fields=["day", "id"], name="job_by_day"),
            models.Index(fields=["unit", "-day"], name="job_of_unit"),
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def title(self) -> str:
        return f"{self.number} rev {self.revision}" if self.revision > 1 else self.number

    def said(self, names: Iterable[str]) -> dict[str, object]:
        """The values of some fields, by their columns (`unit_id`): nothing is loaded for it."""
        columns = [self._meta.get_field(name).attname for name in names]
        return {column: getattr(self, column) for column in columns}

    @property
    def is_draft(self) -> bool:
        return self.state == "draft"

    @property
    def is_signed(self) -> bool:
        return self.state == "signed"

    @property
    def is_corrected(self) -> bool:
        return self.state == "corrected"

    @property
    def leak_checked(self) -> bool:
        return self.leak_result != "not checked"

    @property
    def leak_open(self) -> bool:
        """Whether a leak was found and is still there."""
        return self.leak_result == "found, not repaired"

    @property
    def evacuated(self) -> bool:
        """Whether an evacuation is recorded."""
        return self.evacuation_ended is not None or self.vacuum_pa is not None


class JobStep(models.Model):
    """That a person saved a step of a job, and when they did so last; or passed it over, and why. The latest of a step
    says how it stands; those before it stay, so that what somebody wrote keeps their name."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="steps")
    step = models.CharField(max_length=10)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    skipped = models.CharField("why it was skipped", max_length=300, blank=True)

    class Meta:
        ordering = ["at", "id"]
        constraints = [models.UniqueConstraint(fields=["job", "step", "by"], name="job_step_once_a_person")]

    def __str__(self) -> str:
        return f"{self.job_id}/{self.step}"


class JobHand(models.Model):
    """A person who works on a job beside its technician: they enter everything and do not sign. One who handed it over
    stays as a hand, with the note that they left. Ended: they no longer do."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="hands")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    since = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", verbose_name="added by")
    handed_to = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="+")
    note = models.CharField("what was said when it was handed over", max_length=500, blank=True)
    ended = models.DateTimeField(null=True)
    ended_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["since", "id"]
        constraints = [
            models.UniqueConstraint(fields=["job", "person"], condition=Q(ended=None), name="job_hand_once"),
            models.CheckConstraint(
                condition=Q(ended__isnull=True, ended_by__isnull=True) | Q(ended__isnull=False, ended_by__isnull=False),
                name="job_hand_ended_by_somebody",
            ),
        ]
        indexes = [models.Index(fields=["person", "job"], name="job_hand_of_person")]

    def __str__(self) -> str:
        return f"{self.job_id} with {self.person_id}"


class JobLine(models.Model):
    """One entry: weights before and after (mg), or a quantity (mg; oil uL). Edited while the job is a draft."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="lines")
    position = models.PositiveSmallIntegerField()
    action = models.CharField(max_length=10, choices=list(ACTIONS.items()))
    container = models.ForeignKey(Container, on_delete=models.PROTECT, null=True, blank=True, related_name="job_lines")
    scale = models.ForeignKey(Scale, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    before = models.BigIntegerField(null=True, blank=True)
    after = models.BigIntegerField(null=True, blank=True)
    quantity = models.BigIntegerField(null=True, blank=True)
    before_raw = models.CharField("what the scale sent before", max_length=1200, blank=True)
    after_raw = models.CharField("what the scale sent after", max_length=1200, blank=True)
    note = models.CharField(max_length=300, blank=True)
    key = models.UUIDField(default=uuid.uuid4, unique=True, help_text="made in the browser; the same entry counts once")
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    changed_by = models.ForeignKey(
        Person,
        on_delete=models.PROTECT,
        null=True,
        related_name="+",
        help_text="who changed it last, where that is not who entered it",
    )

    class Meta:
        ordering = ["position", "id"]
        constraints = [
            models.CheckConstraint(condition=Q(action__in=list(ACTIONS)), name="job_line_action_known"),
        ]
        indexes = [models.Index(fields=["job", "position", "id"], name="job_line_in_order")]

    def __str__(self) -> str:
        return f"{self.job_id}/{self.position} {self.action}"

    def written(self, by: Person) -> None:
        """Keep who enters or changes it; who entered it first stays."""
        if self.entered_by_id is None:
            self.entered_by = by
        elif by.pk != (self.changed_by_id or self.entered_by_id):
            self.changed_by = by

    @property
    def last_by(self) -> Person:
        return self.changed_by or self.entered_by

    @property
    def writers(self) -> list[Person]:
        """Who entered it, and who changed it last."""
        return [self.entered_by, *([self.changed_by] if self.changed_by_id not in {None, self.entered_by_id} else [])]

    @property
    def is_oil(self) -> bool:
        return self.action in OIL_ACTIONS

    @property
    def is_on_scale(self) -> bool:
        """Whether the container was weighed before and not yet after."""
        weighed = self.before is not None and self.after is None and self.quantity is None
        return weighed and self.action in {"charge", "recover"}

    @property
    def proof_before(self) -> str:
        """What a photo of its weight before proves (photo_proofs.py)."""
        return f"entry:{self.key}:before"

    @property
    def proof_after(self) -> str:
        return f"entry:{self.key}:after"

    @property
    def proof_quantity(self) -> str:
        return f"entry:{self.key}:quantity"

    @property
    def read_from_scale(self) -> list[tuple[str, str, str]]:
        """Each of its weights that was read from a scale: before or after, which scale, and what that sent."""
        scale = getattr(self, "scale_said", "") or (self.scale.code if self.scale else "")
        sent = (("before", self.before_raw), ("after", self.after_raw))
        return [(which, scale, shown(raw)) for which, raw in sent if raw]

    @property
    def amount(self) -> int | None:
        """What the line moved, mg or uL; None while a weight is missing."""
        return amount_of(self.action, self.before, self.after, self.quantity)
