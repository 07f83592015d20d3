"""What stays in a container that gives no more liquid. Pure: no Django here."""

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
