"""What a voucher's detail says beside its movements and weighings, in words for people. Pure: no Django here."""

from collections.abc import Iterator, Mapping

from inventory.codes.wording import with_code
from inventory.measures.quantity import show
from inventory.reference.rule import EQUIPMENT, USES
from inventory.reference.trade_rules import ENDS, PROOFS
from inventory.releases.causes import CAUSES, HOW

# Shown elsewhere on the page or the job, or of no use to people.
HIDDEN = {
    "weighings",
    "lines",
    "arrivals",
    "event",
    "first_revision",
    "because",
    "restates",
    "gives_up",
    "replaced",
}
CODES = ("supplier", "party", "customer", "taken_by")  # whose names stand outside the ledger
TITLES = {
    "unit": "Unit's reference",
    "party": "To",
    "seen": "Seen, not weighed",
    "assumed": "Neither weighed nor seen",
    "sure": "Asked about, and right",
    "into": "Rest went into",
    "taken_by": "Taken over by",
    "how": "How it is known how much",
    "statement": "A certified technician evacuated them and stated it",
}


def codes_in(detail: Mapping[str, object]) -> Iterator[str]:
    """The codes of parties and customers that a detail holds."""
    return (detail[key] for key in CODES if detail.get(key))


def in_words(detail: Mapping[str, object], names: Mapping[str, str]) -> dict[str, str]:
    """Title to text, in the order in which the detail has them. names: of `codes_in`, by code."""
    found = {}
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
    if key in {"reasons", "sure"} and isinstance(value, Mapping):
        return "; ".join(f"{name}: {given}" for name, given in value.items())
    if key in {"cause", "how"}:
        return {**CAUSES, **HOW}.get(str(value), str(value))
    if key == "sale" and isinstance(value, Mapping):
        return _sale(value)
    if isinstance(value, Mapping):
        return ", ".join(map(str, value))
    if value is True:
        return "yes"
    if isinstance(value, list):
        return ", ".join(_text("", one) for one in value)
    return str(value)


def _sale(said: Mapping[str, object]) -> str:
    """What a sale was for, and what the seller has seen."""
    words = ((ENDS, "end"), (EQUIPMENT, "equipment"), (USES, "use"))
    what = [known.get(said[name], str(said[name])) for known, name in words if name in said]
    seen = [PROOFS.get(name, str(name)) for name in said.get("seen", ())]
    return "; ".join([*what, *(f"seen: {one}" for one in seen)])
