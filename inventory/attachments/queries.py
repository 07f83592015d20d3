"""Which files belong to what, and who may read them."""

from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from django.db.models import QuerySet

from inventory.attachments.models import Attachment

# kind of subject -> may this person read a file of the subject with that key? Rooms add their own; without one,
# the office and the owner may.
readers: dict[str, Callable[[object, str], bool]] = {}
there: dict[str, Callable[[int], bool]] = {}  # kind of subject to whether one of that key is there


def attachments_of(subject: str, withdrawn: bool = False) -> QuerySet[Attachment]:
    """The files of a subject, in their order; withdrawn ones only where asked for."""
    found = Attachment.objects.filter(subject=subject)
    return found if withdrawn else found.filter(withdrawn_at=None)


def attachments_by_subject(subjects: Iterable[str]) -> dict[str, list[Attachment]]:
    """The files of several subjects in one question."""
    found: dict[str, list[Attachment]] = {}
    for one in Attachment.objects.filter(subject__in=list(subjects), withdrawn_at=None):
        found.setdefault(one.subject, []).append(one)
    return found


def attached_files() -> Iterator[tuple[str, Path]]:
    """Every file that is named, those that were withdrawn too: its place in the folder of the data, and its path. One
    that was erased names none."""
    for one in Attachment.objects.exclude(sha256="").only("sha256").order_by("id").iterator(2000):
        yield f"uploads/{one.sha256[:2]}/{one.sha256}", one.path


def may_read(person: object, attachment: Attachment) -> bool:
    kind, _, key = attachment.subject.partition(":")
    if kind in readers:
        return readers[kind](person, key)
    return getattr(person, "role", "") in {"office", "owner"}
