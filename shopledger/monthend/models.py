"""What a month is closed with although it is open, each with its reason."""

from django.db import models

NOUNS = {"draft": "draft", "count": "count", "difference": "weighing", "scale": "scale", "paper": "voucher"}


class LeftOpen(models.Model):
    """Something that a step of a month's end asks for and that is left as it is, and why. month: its first day. step:
    of `queries.STEPS`; thing: what in it, by its code or number. The next month asks for it again."""

    month = models.DateField()
    step = models.CharField(max_length=12)
    thing = models.CharField(max_length=60)
    why = models.CharField(max_length=300)
    by = models.CharField(max_length=150)
    at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["month", "step", "thing"], name="left_open_once_a_month")]

    def __str__(self) -> str:
        return f"{self.thing}, {self.month:%Y-%m}"

    @property
    def called(self) -> str:
        """What it is, with its code or number: `voucher 129`."""
        return f"{NOUNS.get(self.step, '')} {self.thing}".strip()
