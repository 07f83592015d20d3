"""What is entered at a count under way: readings, what was only seen, reasons, a note. Nothing is posted by it."""

import datetime as dt

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from inventory.containers.apart import not_known
from inventory.containers.models import Container, Scale
from inventory.counting.models import REASONS, Count, CountEntry
from inventory.measures.days import said_day
from inventory.measures.quantity import show
from inventory.measures.tolerance import within_tolerance
from inventory.reference.kinds import with_trait
from inventory.shop.models import Shop
from inventory.text.clean import clean
from inventory.text.refusal import Refused


class Questioned(Refused):
    """A reading that is probably a slip; it is taken where whoever entered it says that it is right."""


def open_count(count_id: int) -> Count:
    found = Count.objects.select_for_update(of=("self",)).select_related("location", "scale").get(pk=count_id)
    if found.state == "posted":
        raise Refused(
            f"This count was posted by {found.ended_by} as voucher {found.voucher_id}; count anew what differs now."
        )
    if found.state == "abandoned":
        raise Refused(f"This count was abandoned by {found.ended_by}; start a new one.")
    return found


def keep_note(*, count_id: int, note: str) -> None:
    """What is noted of a count under way; it is posted with it."""
    Count.objects.filter(pk=count_id, state="open").update(note=clean(note, "note", 2000))


def enter(
    *,
    count_id: int,
    code: str,
    gross: int | None,
    by: str,
    scale: Scale | None = None,
    sure: bool = False,
    **kept: str,
) -> CountEntry:
    """Keep a reading (mg gross; oil: uL left; None: it was seen, and not weighed); one of the same container is
    replaced. sure: it was questioned and is meant. kept: `raw` and `sure_of`, as `raw` and `sure` of the entry. Raises
    Refused for a container that is not in the book, or a reading that is another container's."""
    with transaction.atomic():
        count = open_count(count_id)
        container = _to_count(code)
        if gross is not None and not container.is_oil:
            _refuse_negative(container, gross)
            if not (sure or kept.get("sure_of")):
                _question(count, container, gross, scale or count.scale)
        said = {
            "gross": gross,
            "scale": None if gross is None else scale or count.scale,
            "raw": kept.get("raw", "") if gross is not None else "",
            "sure": kept.get("sure_of", "") if gross is not None else "",
        }
        entry, _ = CountEntry.objects.update_or_create(
            count=count, container=container, defaults=said | _entered(container, by)
        )
        return entry


def _entered(container: Container, by: str) -> dict[str, object]:
    return {
        "last_voucher": container.last_voucher_id,
        "by": by,
        "at": timezone.now(),
        "reason": "",
        "reason_note": "",
    }


def _to_count(code: str) -> Container:
    """The container of this code. Raises Refused for one that is not counted."""
    found = Container.objects.select_related("account", "substance", "location", "last_scale")
    container = found.filter(code=code.strip(), void=False).first()
    if container is None:
        near = found.filter(code__iexact=code.strip(), void=False).first()
        hint = "Check its label; if it is yours, receive it first."
        if near:
            hint = f"Is {near.code} meant? Write its letters so."
        raise Refused(
            f"There is no container {code.strip()[:60]} in this shop's book. {hint}",
            "code",
        )
    if container.retired_on:
        raise Refused(f"{container.code} was retired on {said_day(container.retired_on)}; it is not counted.", "code")
    if container.unknown:
        raise Refused(not_known(container.code), "code")
    return container


def enter_beside(*, since: dt.datetime | None, **given: object) -> CountEntry:
    """The same, where others may enter as well: what somebody else has entered since this one's page was made is not
    overwritten unasked. since: when that was. given: as of `enter`."""
    with transaction.atomic():
        count = open_count(given["count_id"])
        code = str(given["code"]).strip()
        others = count.entries.filter(container__code=code, at__gt=since).exclude(by=given["by"]) if since else None
        there = others.select_related("container").first() if others is not None and not given["sure"] else None
        if there is not None:
            said = (
                "saw it" if there.is_seen else f"entered {show(there.gross, 'mL' if there.container.is_oil else 'g')}"
            )
            raise Questioned(f"{there.by} {said} for {code} meanwhile. Tick the box to put yours in its place.", "sure")
        return enter(**given)


def see_rest(*, count_id: int, by: str) -> int:
    """All that stands at the place by the book and is not entered yet was seen as expected, and not weighed. Returns
    how many. Raises Refused of a shop that counts blind: what was expected is told to nobody."""
    if Shop.current().blind_counts:
        raise Refused(
            "This shop counts blind, so nobody knows what was expected: weigh each, or enter each that you see. The "
            "book stands for what nobody enters."
        )
    with transaction.atomic():
        count = open_count(count_id)
        rest = list(standing_at(count).exclude(pk__in=count.entries.values("container_id")))
        CountEntry.objects.bulk_create(CountEntry(count=count, container=one, **_entered(one, by)) for one in rest)
        return len(rest)


def standing_at(count: Count) -> QuerySet[Container]:
    """What stands at the place of a count by the book, and is known."""
    return Container.objects.filter(location=count.location_id, retired_on=None, void=False, unknown=False)


def _refuse_negative(container: Container, gross: int) -> None:
    """Refuse a first weighing that leaves nothing for the container itself: its tare would be below nothing."""
    if container.tare_mg is None and gross < container.content:
        raise Refused(
            f"{container.code} holds {show(container.content, 'g')} by the book, and {show(gross, 'g')} with itself "
            "are less. Read the scale again; if it is right, correct what it came with first.",
            "gross",
        )


def _question(count: Count, container: Container, gross: int, scale: Scale | None) -> None:
    """A reading that is far from this container's book and just what another's should be was probably its."""
    scale = scale or Scale.objects.filter(usual=True).first()
    if scale is None or _fits(container, gross, scale):
        return
    others = Container.objects.filter(location=count.location, retired_on=None, void=False, tare_mg__isnull=False)
    others = (
        others.exclude(pk=container.pk).exclude(kind__in=with_trait("is_oil")).select_related("account", "last_scale")
    )
    counted = set(count.entries.values_list("container_id", flat=True))
    fitting = [one for one in others[:2000] if one.pk not in counted and _fits(one, gross, scale)]
    if len(fitting) == 1 and Shop.current().blind_counts:
        raise Questioned(
            f"Look at the label again: is it {container.code} that stands on the scale? If so, tick the box.", "sure"
        )
    if len(fitting) == 1:
        raise Questioned(
            f"{show(gross, 'g')} is what {fitting[0].code} should weigh, not {container.code}. Was that one on the "
            "scale? If not, tick the box.",
            "sure",
        )


def _fits(container: Container, gross: int, scale: Scale) -> bool:
    if container.tare_mg is None:
        return True
    implied = container.tare_mg + container.content
    before = container.last_scale.readability_mg if container.last_scale else scale.readability_mg
    return within_tolerance(gross - implied, gross, scale.readability_mg, implied, before)


def take_out(*, count_id: int, code: str) -> None:
    """Take a reading off a count; one that is gone stays gone."""
    with transaction.atomic():
        count = open_count(count_id)
        count.entries.filter(container__code=code).delete()


def give_reason(*, count_id: int, code: str, reason: str, note: str = "") -> None:
    if reason not in REASONS:
        raise Refused(f"Choose one of {', '.join(REASONS.values())}.", "reason")
    with transaction.atomic():
        count = open_count(count_id)
        entries = count.entries.filter(container__code=code)
        if not entries.update(reason=reason, reason_note=clean(note, "note", 300)):
            raise Refused(f"{code} is not counted yet.", "reason")
