"""What stays in a container that gives no more liquid. Pure: no Django here."""

from dataclasses import dataclass

from inventory.measures.quantity import show
from inventory.reference.properties import PropertyUnavailable, gas_density, vapour_density

STANDARD_PA = 101_325.0


def vapour_heel_mg(designation: str, volume_ml: float, celsius: float, pascal: float | None = None) -> int | None:
    """mg of vapour that fills a volume: saturated (liquid has just gone) where no pressure is given, else at that
    absolute pressure. Density from CoolProp. None where nothing is published. Source: mass = density x volume."""
    try:
        density = vapour_density(designation, celsius) if pascal is None else gas_density(designation, celsius, pascal)
    except (PropertyUnavailable, LookupError):
        return None
    return round(density * volume_ml)  # kg/m3 is mg/mL


@dataclass(frozen=True)
class Residue:
    """What the book still has in a container that is to go. vapour: mg that vapour alone can be, None where not known.
    doubtful: there is more than that, so liquid may be left."""

    book: int
    vapour: int | None
    doubtful: bool
    sentence: str


CELSIUS = 25.0


def residue(book_mg: int, designation: str, water_capacity_mg: int | None) -> Residue:
    """Compare what the book has with saturated vapour at 25 °C. The volume in mL is the water capacity in g, which is
    0.3 % too little at 25 °C."""
    if not book_mg:
        return Residue(0, None, False, "Empty by the book.")
    vapour = vapour_heel_mg(designation, water_capacity_mg / 1000, CELSIUS) if water_capacity_mg else None
    if vapour is None:
        why = "its water capacity is not known" if not water_capacity_mg else "no vapour density is known"
        return Residue(book_mg, None, False, f"Not checked: {why}. Weigh it if in doubt.")
    most = f"vapour alone can be {show(vapour, 'g')} at {CELSIUS:g} °C"
    if book_mg > vapour:
        return Residue(book_mg, vapour, True, f"More than {most}: liquid may be left. Weigh it again and recover it.")
    return Residue(book_mg, vapour, False, f"As {most}, there is no liquid left.")
