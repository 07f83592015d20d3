"""What happened about the leaks of a unit: inspections, repairs, tests, and the papers that go with them."""

from django.db import models
from django.db.models import Q

from inventory.measures.fields import MassField
from inventory.measures.quantity import show
from inventory.releases.causes import CAUSES
from jobs.drafts.models import Job
from jobs.people.models import Person
from jobs.units.models import Unit


class LeakEvent(models.Model):
    """One thing that happened, as it was said. Nothing of it is ever changed: a wrong one is voided, with the reason.

    What 40 CFR 82.157(l) and 84.106(l) want on record of inspections, repairs, verification tests, extensions and
    plans. at: where the time of day is known; day is its day at the shop. passed: of tests. all_leaks: of a follow-up
    test, whether it shows all identified leaks repaired. evacuated: of a repair. until: of an extension, its last day.
    released_mg: of an accidental release, what got out of the unit, None where nobody knows;
    cause: of it, one of CAUSES. It was charged long ago and is no stock, so no movement says it.
    person_said: who did it, where that is nobody who works here. by: who entered it.
    """

    KINDS = [
        ("inspection", "leak inspection of all visible and accessible parts"),
        ("release", "accidental release"),
        ("repair", "repair"),
        ("initial-test", "initial verification test"),
        ("normal-running", "normal operating conditions reached"),
        ("follow-up-test", "follow-up verification test"),
        ("mothballed", "mothballed"),
        ("back-in-use", "back in use"),
        ("extension-asked", "extension asked for"),
        ("extension-granted", "extension granted"),
        ("plan", "plan to retrofit or retire it"),
        ("plan-done", "plan carried out"),
        ("report-sent", "report sent to the authority"),
        ("owner-told", "owner told"),
    ]
    TESTS = ("initial-test", "follow-up-test")

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="leak_events")
    kind = models.CharField(max_length=20, choices=KINDS)
    day = models.DateField()
    at = models.DateTimeField("time", null=True, blank=True)
    passed = models.BooleanField(null=True, blank=True)
    all_leaks = models.BooleanField("shows all identified leaks repaired", null=True, blank=True)
    evacuated = models.BooleanField("evacuated or opened for it", null=True, blank=True)
    until = models.DateField("granted until", null=True, blank=True)
    released_mg = MassField("got out", null=True, blank=True)
    cause = models.CharField(max_length=20, choices=list(CAUSES.items()), blank=True)
    places = models.TextField(blank=True)
    method = models.CharField(max_length=80, blank=True)
    parts = models.TextField(blank=True)
    note = models.TextField(blank=True)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    person_said = models.CharField("done by", max_length=150, blank=True)
    certificate = models.CharField(max_length=200, blank=True)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, null=True, blank=True, related_name="leak_events")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="+")
    key = models.UUIDField(unique=True, null=True, editable=False)  # of the form that it was entered with
    void_reason = models.TextField("why it is void", blank=True)
    voided_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="+")
    voided_on = models.DateField(null=True)

    class Meta:
        ordering = ["day", "id"]
        indexes = [models.Index(fields=["unit", "day"], name="leak_event_of_unit")]
        constraints = [
            models.CheckConstraint(
                name="leak_event_test_has_result",
                condition=Q(passed__isnull=False, kind__in=["initial-test", "follow-up-test"])
                | (Q(passed__isnull=True) & ~Q(kind__in=["initial-test", "follow-up-test"])),
            ),
            models.CheckConstraint(
                name="leak_event_all_leaks_of_follow_up",
                condition=Q(all_leaks__isnull=True) | Q(kind="follow-up-test"),
            ),
            models.CheckConstraint(
                name="leak_event_until_of_extension",
                condition=Q(until__isnull=False, kind="extension-granted")
                | (Q(until__isnull=True) & ~Q(kind="extension-granted")),
            ),
            models.CheckConstraint(
                name="leak_event_evacuated_of_repair",
                condition=Q(evacuated__isnull=True) | Q(kind="repair"),
            ),
            models.CheckConstraint(
                name="leak_event_cause_of_release",
                condition=(Q(kind="release") & ~Q(cause=""))
                | (~Q(kind="release") & Q(cause="", released_mg__isnull=True)),
            ),
            models.CheckConstraint(name="leak_event_one_person", condition=Q(person__isnull=True) | Q(person_said="")),
            models.CheckConstraint(
                name="leak_event_void_says_when", condition=Q(voided_on__isnull=False) | Q(void_reason="")
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.day}"

    @property
    def result(self) -> str:
        """What came of it, in words; blank where nothing is to be said."""
        if self.passed is not None:
            leaks = {True: ", all identified leaks repaired", False: ", not all leaks repaired", None: ""}
            return ("passed" if self.passed else "failed") + leaks[self.all_leaks]
        if self.evacuated is not None:
            return "evacuated or opened for it" if self.evacuated else "not evacuated for it"
        if self.cause:
            much = "how much is not known" if self.released_mg is None else show(self.released_mg, "g")
            return f"{self.get_cause_display()}, {much}"
        return f"until {self.until}" if self.until else ""

    @property
    def done_by(self) -> str:
        """Who did it, with the certificate."""
        who = self.person.name if self.person else self.person_said
        return f"{who} ({self.certificate})" if who and self.certificate else who or self.certificate

    @property
    def is_void(self) -> bool:
        return self.voided_on is not None
