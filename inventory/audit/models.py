"""What happened to everything that is not in the ledger."""

from django.db import models

from inventory.measures.quantity import show


class Change(models.Model):
    """One record made, changed or removed. Written once. before and after hold only what differs, as text; a password
    is never in them. what: the kind of record; key: its primary key; title: what it was called."""

    KINDS = [("made", "made"), ("changed", "changed"), ("removed", "removed")]

    at = models.DateTimeField()
    by = models.CharField(max_length=150)
    kind = models.CharField(max_length=8, choices=KINDS)
    what = models.CharField(max_length=40)
    key = models.CharField(max_length=64)
    title = models.CharField(max_length=200)
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)

    class Meta:
        ordering = ["-id"]
        indexes = [
            models.Index(fields=["what", "key", "id"], name="change_of_record"),
            models.Index(fields=["by", "id"], name="change_by_person"),
            models.Index(fields=["at"], name="change_at"),
        ]

    def __str__(self) -> str:
        return f"{self.what} {self.title} {self.kind}"

    @property
    def pairs(self) -> list[tuple[str, str, str]]:
        """(field in words, before, after)."""
        names = dict.fromkeys([*self.before, *self.after])
        return [
            (_words(name), _shown(name, self.before.get(name, "")), _shown(name, self.after.get(name, "")))
            for name in names
        ]

    @property
    def told(self) -> list[tuple[str, str]]:
        """(field in words, what it was and became): what it held alone, where the record was made or removed."""
        if self.kind == "changed":
            return [(name, f"{before or '(blank)'} → {after or '(blank)'}") for name, before, after in self.pairs]
        return [(name, after if self.kind == "made" else before) for name, before, after in self.pairs]


def _words(name: str) -> str:
    return name.removesuffix("_mg").removesuffix("_ul").replace("_", " ")


def _shown(name: str, value: str) -> str:
    """Masses and volumes with their unit; all else as it is kept."""
    unit = "g" if name.endswith("_mg") else "mL" if name.endswith("_ul") else ""
    return show(int(value), unit) if unit and value.lstrip("-").isdigit() else value
