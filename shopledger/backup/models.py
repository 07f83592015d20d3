"""What was done to keep the records safe, and when: read by the page on the shop's health."""

from django.db import models


class Upkeep(models.Model):
    """A backup that was made, a proof that was run, a restoring. said: its outcome in a sentence."""

    KINDS = [("backup", "backup"), ("verify", "proof of the ledger"), ("restore", "restoring")]

    kind = models.CharField(max_length=10, choices=KINDS)
    at = models.DateTimeField(auto_now_add=True)
    well = models.BooleanField()
    said = models.CharField(max_length=500)

    class Meta:
        ordering = ["-at", "-id"]
        indexes = [models.Index(fields=["kind", "-at"], name="upkeep_latest_of_kind")]

    def __str__(self) -> str:
        return f"{self.kind} of {self.at:%Y-%m-%d}"


def note(kind: str, well: bool, said: str) -> None:
    """Keep that it was done. A database that takes no writing (a disk that is full or read-only, a replica) does
    not turn a good backup into a failed one: then nothing is kept."""
    from django.db import DatabaseError, transaction

    try:
        with transaction.atomic():
            Upkeep.objects.create(kind=kind, well=well, said=said[:500])
    except DatabaseError:
        return
