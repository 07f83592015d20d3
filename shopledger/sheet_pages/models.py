"""Spreadsheets that were sent, that were loaded, and how the shop's own are understood."""

from django.db import models

from shopledger.logbook.models import Upload
from shopledger.sheet_meaning.kinds_of_sheet import SHEET_KINDS

KINDS = [(kind.code, kind.label) for kind in SHEET_KINDS.values()]


class SheetMapping(models.Model):
    """How a sheet of the shop's own is understood, kept under a name for the next one like it. heads: by the words of
    a head the field, or - for none. answers: by question; those that hold for the next sheet too."""

    name = models.CharField(max_length=80, unique=True)
    kind = models.CharField(max_length=12, choices=KINDS)
    heads = models.JSONField(default=dict)
    answers = models.JSONField(default=dict)
    by = models.CharField(max_length=150, blank=True)
    changed_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class LoadedSheet(models.Model):
    """A sheet that was loaded: its digest is that of the log it became. rows: a digest of each row, by which the rows
    of a sheet that goes on with this one are known again. No evidence: the vouchers are."""

    digest = models.CharField(max_length=64, unique=True)
    kind = models.CharField(max_length=12, choices=KINDS)
    rows = models.JSONField(default=list)
    loaded_at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return f"{self.kind} of {self.loaded_at:%Y-%m-%d}"


class SheetUpload(Upload):
    """A sheet that somebody sent: put right by pointing, while it is open. pointed: sheet, head, first, last, columns.
    faults: of the last judging, each place, row, column, message."""

    kind = models.CharField(max_length=12, choices=KINDS)
    name = models.CharField(max_length=200)
    mapping = models.ForeignKey(SheetMapping, on_delete=models.SET_NULL, null=True, blank=True)
    pointed = models.JSONField(default=dict)
    answers = models.JSONField(default=dict)

    def __str__(self) -> str:
        return f"sheet {self.pk}"

    @property
    def is_open(self) -> bool:
        """Whether it can still be put right."""
        return self.state in {"open", "faulty", "ready", "failed"}
