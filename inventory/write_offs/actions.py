"""A write-off that two people must agree to: asked for, agreed, refused, withdrawn."""

import datetime as dt
import uuid

from django.utils import timezone

from inventory.containers.actions import count, retire, taken_back
from inventory.containers.preview import WouldPost, post_as_shown, would_post
from inventory.containers.write_off import NeedsYes
from inventory.counting.actions import post_count
from inventory.ledger.actions import writing
from inventory.releases.actions import release
from inventory.shop.clock import today
from inventory.text.clean import clean
from inventory.text.refusal import Refused
from inventory.write_offs.models import WriteOff
from inventory.write_offs.queries import person_called

ACTS = {"retire": retire, "release": release, "count": count, "post_count": post_count, "taken_back": taken_back}


def ask(needed: NeedsYes) -> WriteOff:
    """Keep an entry that was not posted, until a second person answers. The same form asks once."""
    said = dict(needed.said)
    note, key = str(said.pop("note", "")), said.get("key")
    with writing():
        known = WriteOff.objects.filter(key=key) if key else WriteOff.objects.filter(state="waiting", said=_plain(said))
        found = known.first()
        if found is not None:
            return found
        if said.get("day") == today() and said.get("at") is None:
            said["at"] = timezone.now()  # its place among the others of its day, whenever the answer comes
        lost = [[code, oil, quantity] for (code, oil), quantity in sorted(needed.lost.items())]
        return WriteOff.objects.create(
            act=needed.act,
            said=_plain(said),
            lost=lost,
            note=note,
            asked_by=said["by"],
            asked_at=timezone.now(),
            key=key or uuid.uuid4(),
        )


def what_it_posts(found: WriteOff) -> list[WouldPost]:
    """What a yes would post as things stand now. Raises Refused where it cannot be posted any more."""
    return would_post(lambda: _post(found, "-"))


def agree(*, pk: int, by: str, shown: str) -> int:
    """Post it as it was shown (`preview.mark`); returns the voucher's number. Raises Refused, and
    `preview.ChangedSince`."""
    with writing():
        found = _waiting(pk)
        if by == found.asked_by:
            raise Refused("You asked for it; the yes is a second person's, of the office or an owner.")
        return post_as_shown(lambda: _post(found, by), shown)


def refuse(*, pk: int, by: str, answer: str) -> WriteOff:
    """Say no; the reason is kept, and nothing is posted."""
    answer = clean(answer, "answer", 300)
    if not answer:
        raise Refused("Say why not, so that whoever asked knows what to do instead.", "answer")
    with writing():
        found = _waiting(pk)
        if by == found.asked_by:
            raise Refused("You asked for it; withdraw it instead.")
        return _answered(found, "refused", by, answer)


def withdraw(*, pk: int, by: str) -> WriteOff:
    """Whoever asked takes it back before it is answered."""
    with writing():
        found = _waiting(pk)
        if by != found.asked_by:
            raise Refused(f"{person_called(found.asked_by)} asked for it, and withdraws it; you may refuse it.")
        return _answered(found, "withdrawn", by, "")


def _waiting(pk: int) -> WriteOff:
    found = WriteOff.objects.get(pk=pk)
    if not found.is_waiting:
        by = f" as voucher {found.voucher_id}" if found.voucher_id else ""
        who = person_called(found.answered_by)
        raise Refused(f"It was {found.state} by {who}{by} already; nothing more is to be said to it.")
    return found


def _post(found: WriteOff, by: str) -> int:
    said = {**found.said, **({"note": found.note} if found.note else {}), "agreed": by}
    for name, read in (("day", dt.date.fromisoformat), ("at", dt.datetime.fromisoformat)):
        if said.get(name) is not None:
            said[name] = read(said[name])
    with writing() as ledger:
        posted = ACTS[found.act](**said)
        number = posted[0] if found.act == "count" else posted
        _answered(WriteOff.objects.get(pk=found.pk), "agreed", by, "", number)
        ledger.flush()
        return number


def _answered(found: WriteOff, state: str, by: str, answer: str, voucher: int | None = None) -> WriteOff:
    found.state, found.answered_by, found.answered_at = state, by, timezone.now()
    found.answer, found.voucher_id = answer, voucher
    found.save()
    return found


def _plain(said: dict[str, object]) -> dict[str, object]:
    """What a verb was told, as JSON holds it."""
    return {
        name: value if isinstance(value, (int, dict, list, type(None))) else _text(value)
        for name, value in said.items()
    }


def _text(value: object) -> object:
    if isinstance(value, (dt.date, dt.datetime)):
        return value.isoformat()
    return list(value) if isinstance(value, tuple) else str(value)
