"""What is known of a weight or quantity that is typed about a container: of its row and of the scale."""

from collections.abc import Iterable

from inventory.containers.models import Container, Scale
from inventory.plausible.expected import Known
from inventory.plausible.masses import PASSED, Amount, Weight
from inventory.plausible.oils import LEVEL, OilVolume
from inventory.plausible.vessels import Vessel

READABILITY_MG = 1_000  # where no scale is named and none is the usual one: common practice, no source


def called(codes: Iterable[str]) -> dict[str, Container]:
    """Containers by code, with all that is asked of them here; those that are gone are left out."""
    found = Container.objects.select_related("substance", "account").filter(code__in=set(codes), void=False)
    return {one.code: one for one in found}


def vessel_of(one: Container) -> Vessel:
    """A container of refrigerant as it stands. Needs substance and account loaded."""
    return Vessel(
        one.kind,
        one.substance.code if one.substance else "",
        one.content,
        one.nominal,
        one.most,
        one.tare_mg,
        one.water_capacity_mg,
        one.stamped_most_mg,
        one.last_readability_mg,
    )


def weight_of(one: Container | None, scale: str) -> Known | None:
    """A gross weight of it, on the scale of this code (blank: the usual one); of a bottle of oil what is left."""
    if one is None or one.unknown:
        return None
    if one.is_oil:
        return OilVolume(LEVEL, one.content, one.nominal)
    return Weight(vessel_of(one), *_of_scale(scale_called(scale)))


def scale_called(code: str) -> Scale | None:
    """The scale of this code; blank: the usual one."""
    return Scale.objects.filter(**({"code": code} if code else {"usual": True})).first()


def counted_of(one: Container | None, scale: Scale | None) -> Known | None:
    """The same at a count, which is to find out how far the book is off. scale: the one it is read on."""
    if one is None or one.unknown:
        return None
    if one.is_oil:
        return OilVolume(LEVEL, None, max(one.nominal, one.most))
    return Weight(vessel_of(one), *_of_scale(scale), counted=True)


def _of_scale(scale: Scale | None) -> tuple[int, int | None]:
    """What it can resolve, and the most it weighs."""
    return (scale.readability_mg, scale.capacity_mg) if scale else (READABILITY_MG, None)


def amount_of(one: Container | None) -> Known | None:
    """A quantity that was passed on out of it. Of what nobody can fill, the act itself says what cannot be."""
    if one is None or one.unknown or not one.traits.refillable:
        return None
    return Amount(PASSED, vessel_of(one))
