"""Reports as they were when a period was sealed."""

from pathlib import Path

from django.conf import settings
from django.db import models


class IssuedReport(models.Model):
    """One report of a sealed period, kept as it was issued. Its bytes lie under DATA_DIR/issued by their SHA-256; the
    row is written once, like the seal."""

    seal = models.ForeignKey("inventory.Seal", on_delete=models.PROTECT, related_name="issued")
    report = models.CharField(max_length=20)
    format = models.CharField(max_length=4)
    first = models.DateField()
    last = models.DateField()
    number = models.BigIntegerField(help_text="the ledger's last voucher when it was issued")
    digest = models.CharField(max_length=64)
    sha256 = models.CharField(max_length=64)
    size = models.PositiveIntegerField()
    made_at = models.DateTimeField()
    made_by = models.CharField(max_length=150)

    class Meta:
        ordering = ["seal", "report", "format"]
        constraints = [models.UniqueConstraint(fields=["seal", "report", "format"], name="issued_once")]

    def __str__(self) -> str:
        return f"{self.report} {self.first} to {self.last} ({self.format})"

    @property
    def filename(self) -> str:
        return f"{self.report}-{self.first}-to-{self.last}-as-issued.{self.format}"

    @property
    def path(self) -> Path:
        return settings.DATA_DIR / "issued" / self.sha256[:2] / self.sha256
