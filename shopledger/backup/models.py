"""What was done to keep the records safe, and when: read by the page on the shop's health."""

from django.db import models


class Upkeep(models.Model):
    """A backup that was made, a proof that was run, a restoring, a trial of one. said: its outcome in a sentence.
    apart: of a backup, whether it lies on another disk than the folder of the data, where that is known."""

    KINDS = [
        ("backup", "backup"),
        ("verify", "proof of the ledger"),
        ("restore", "restoring"),
        ("trial", "restoring on trial"),
    ]

    kind = models.CharField(max_length=10, choices=KINDS)
    at = models.DateTimeField(auto_now_add=True)
    well = models.BooleanField()
    said = models.CharField(max_length=500)
    apart = models.BooleanField(null=True)

    class Meta:
        ordering = ["-at", "-id"]
        indexes = [models.Index(fields=["kind", "-at"], name="upkeep_latest_of_kind")]

    def __str__(self) -> str:
        return f"{self.kind} of {self.at:%Y-%m-%d}"


def note(kind: str, well: bool, said: str, apart: bool | None = None) -> None:
    """Keep that it was done. A database that takes no writing (a disk that is full or read-only, a replica) does
    not turn a good backup into a failed one: then nothing is kept."""
    from django.db import DatabaseError, transaction

    try:
        with transaction.atomic():
            Upkeep.objects.create(kind=kind, well=well, said=said[:500], apart=apart)
    except DatabaseError:
        return
