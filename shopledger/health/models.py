"""Pages that took long."""

from django.db import models


class SlowPage(models.Model):
    """One request over SLOW_MS; only the latest are kept. page: the URL's name, never what was in it."""

    at = models.DateTimeField(auto_now_add=True)
    page = models.CharField(max_length=60)
    method = models.CharField(max_length=10)
    milliseconds = models.PositiveIntegerField()

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"{self.page}: {self.milliseconds} ms"
