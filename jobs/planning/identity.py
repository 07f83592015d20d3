"""What an identified refrigerant means for where it may go. Pure: no Django here."""

from dataclasses import dataclass

from inventory.reference.refrigerants import refrigerants, spelling_meant


@dataclass(frozen=True)
class Identity:
    """apart: what is recovered goes only into a container for mixed refrigerant. sentence: why, or what it is."""

    apart: bool
    sentence: str


def identity(label: str, found: str, purity_percent: float | None, least_percent: float) -> Identity | None:
    """What the identification says of the unit's refrigerant; None where nothing was identified.

    label: the designation on the unit's label, blank where not known. found: as the identifier says, in words.
    purity_percent: of the label's refrigerant. least_percent: from which on it counts as pure.
    """
    named = _designation(found)
    if label and named and named != label:
        return Identity(True, f"{named} was found, and the label says {label}. {APART}")
    if found.strip() and not named:
        return Identity(True, f"What was found ({found.strip()}) is no single refrigerant that is known here. {APART}")
    if purity_percent is not None and purity_percent < least_percent:
        return Identity(True, f"Its purity is {purity_percent:g} %, under {least_percent:g} %. {APART}")
    if not named and purity_percent is None:
        return None
    pure = f", {purity_percent:g} % pure" if purity_percent is not None else ""
    return Identity(False, f"{named or label}{pure}: as the label says." if label else f"{named}{pure}.")


APART = (
    "Recover it only into a cylinder for mixed refrigerant: in any other it spoils what is there, and in a service "
    "machine all that the machine touches after."
)


def _designation(found: str) -> str:
    known = refrigerants()
    return found.strip() if found.strip() in known else spelling_meant(found) or ""
