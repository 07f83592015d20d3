"""Records that the program itself gives a code: P-000012, C-000017, U-000012."""

import uuid

from django.db import models

from inventory.text.refusal import Refused


class Coded(models.Model):
    """Something that the ledger calls by a code instead of its name, so that the name may change.

    The code is PREFIX and the record's number. It is given once, with the first save, in the order of these; numbers
    are never given twice, and so no code is. A record is saved one by one: a bulk statement gives no code.
    """

    PREFIX = ""
    HOLD_CODE: tuple[str, ...] = ()  # columns that `fold` works out, with the code in them
    unnamed = False  # while it is saved for the first time
    named_now = False  # while its first code is saved: what stands in its row is what it says

    code = models.CharField(max_length=40, unique=True, editable=False)

    class Meta:
        abstract = True

    def save(self, *args, **kwargs) -> None:
        """Raises Refused where the code of a stored record was changed."""
        stored = getattr(self, "_code_stored", None)
        if stored is not None and stored != self.code:
            word = self._meta.get_field("code").verbose_name
            raise Refused(f"The {word} {stored} cannot change: the ledger holds it.", "code")
        if stored is not None or not self._state.adding:
            super().save(*args, **kwargs)
            return
        self.code, self.unnamed = f"new {uuid.uuid4().hex}", True  # until the database has given its number
        super().save(*args, **kwargs)
        self.code, self.unnamed = f"{self.PREFIX}-{self.pk:06d}", False
        self._code_stored = self.code
        self.fold()
        self.named_now = True
        super().save(update_fields=["code", *self.HOLD_CODE])
        self.named_now = False

    @classmethod
    def from_db(cls, db, field_names, values):
        record = super().from_db(db, field_names, values)
        record._code_stored = record.__dict__.get("code")
        return record

    @property
    def called(self) -> str:
        """What people call it now."""
        return self.name

    def fold(self) -> None:
        """Bring the columns that are worked out from others up to date."""
