"""What retiring containers comes to, said before it is done."""

from collections.abc import Sequence

from inventory.containers.queries import containers
from inventory.measures.quantity import show


def will_retire(codes: Sequence[str], into: str, person) -> list[str]:
    """What retiring these comes to, in sentences with figures. into: the container that takes what is left."""
    found = containers().filter(code__in=codes)
    left: dict[tuple[str, bool], int] = {}
    for one in found:
        if one.content and one.substance:
            key = (one.substance.code, one.is_oil)
            left[key] = left.get(key, 0) + one.content
    goes = f"goes into {into}" if into else "is lost, and counted as heel loss"
    many = len(codes)
    said = [f"{many} container{'s' * (many != 1)} {'are' if many != 1 else 'is'} out of use for good."]
    for (gas, is_oil), quantity in sorted(left.items()):
        said.append(f"{show(quantity, person.volume_unit if is_oil else person.mass_unit)} of {gas} {goes}.")
    return said if left else [*said, "By the book nothing is left in them."]
