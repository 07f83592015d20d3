"""Substances: what a container can hold, a refrigerant by its designation or an oil by family and grade."""

from inventory.reference import lookup, oils, refrigerants
from inventory.reference.lookup import UnknownSubstance

__all__ = ["UnknownSubstance", "substance"]


def substance(code: str) -> tuple[str, bool]:
    """The canonical code of a substance, and whether it is an oil.

    UnknownSubstance, with a sentence that names what is near, for a code that is neither.
    """
    text = str(code).strip()
    if text in refrigerants.refrigerants():
        return text, False
    if oils.looks_like_oil(text):
        return oils.parse_oil(text).code, True
    meant = refrigerants.spelling_meant(text)
    near = [] if meant else lookup.near(text, refrigerants.refrigerants())
    if meant or near:
        refrigerants.refrigerant(text)
    raise UnknownSubstance(
        f"{lookup.shown(text)} is neither a refrigerant nor an oil known here: "
        "write a refrigerant by its designation, like R-134a or R-1234yf, "
        "or an oil by family and ISO VG number, like PAG 46 or POE 68."
    )
