"""Which logs were loaded."""

from django.db import models


class LoadedLog(models.Model):
    """A log that was loaded, by the SHA-256 of its files: the same content is not loaded twice."""

    digest = models.CharField(max_length=64, unique=True)
    loaded_at = models.DateTimeField(auto_now_add=True)
    first_voucher = models.BigIntegerField(null=True)
    last_voucher = models.BigIntegerField(null=True)
    events = models.PositiveIntegerField()

    def __str__(self) -> str:
        return f"log of {self.loaded_at:%Y-%m-%d}"
