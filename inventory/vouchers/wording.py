"""What a voucher's detail says beside its movements and weighings, in words for people. Pure: no Django here."""

from collections.abc import Iterator, Mapping

from inventory.codes.wording import with_code
from inventory.measures.quantity import show

# Shown elsewhere on the page or the job, or of no use to people.
HIDDEN = {
    "weighings",
    "lines",
    "changes",
    "arrivals",
    "shown_in",
    "unit_about",
    "entered",
    "event",
    "first_revision",
    "because",
    "restates",
}
ENTERED = ("substance", "charge_min_mg", "charge_max_mg", "reasons")  # of a job; the rest stands on its page
CODES = ("supplier", "party", "customer")  # whose names stand outside the ledger
TITLES = {
    "technician_said": "Technician",
    "technician": "Technician's sign-in",
    "signed_by_said": "Signed by",
    "unit_said": "Unit",
    "unit": "Unit's reference",
    "vin": "VIN",
    "charge_min_mg": "Least charge on the label",
    "charge_max_mg": "Most charge on the label",
    "party": "To",
    "into": "Rest went into",
}


def codes_in(detail: Mapping[str, object]) -> Iterator[str]:
    """The codes of parties and customers that a detail holds."""
    return (detail[key] for key in CODES if detail.get(key))


def in_words(detail: Mapping[str, object], names: Mapping[str, str]) -> dict[str, str]:
    """Title to text, in the order in which the detail has them. names: of `codes_in`, by code."""
    found = {}
    entered = detail.get("entered", {})
    detail = {**detail, **{key: entered[key] for key in ENTERED if key in entered}}
    for key, value in detail.items():
        if key in HIDDEN or value in ("", None, {}, []):
            continue
        title = TITLES.get(key) or key.replace("_", " ").capitalize()
        value = with_code(value, names) if key in CODES else value
        found[title] = show(value, "g") if key.endswith("_mg") and isinstance(value, int) else _text(key, value)
    return found


def _text(key: str, value: object) -> str:
    if key == "tare" and isinstance(value, Mapping):
        old = "not known" if value["old_mg"] is None else show(value["old_mg"], "g")
        return f"{value['container']}: was {old}, is {show(value['new_mg'], 'g')}"
    if key == "photos":
        return ", ".join(str(title or "photo") for title, _digest in value)
    if key == "reasons" and isinstance(value, Mapping):
        return "; ".join(f"{name}: {_reason(given)}" for name, given in value.items())
    if isinstance(value, Mapping):
        return ", ".join(map(str, value))
    if isinstance(value, list):
        return ", ".join(_text("", one) for one in value)
    return str(value)


def _reason(given: object) -> str:
    return ", ".join(str(one) for one in given if one) if isinstance(given, list) else str(given)
