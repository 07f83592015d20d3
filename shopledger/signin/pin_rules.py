"""Which PINs are refused: those that whoever finds a phone tries first. No Django here."""

DIGITS = 6
# Six digits that many take and no rule below names: shapes on the keypad, halves that mirror each other.
TAKEN_BY_MANY = {
    "007007",
    "010203",
    "100200",
    "102030",
    "112358",
    "123321",
    "131420",
    "135790",
    "142536",
    "147258",
    "147369",
    "159357",
    "159753",
    "246810",
    "258369",
    "271828",
    "314159",
    "321123",
    "357159",
    "456654",
    "456789",
    "520131",
    "696969",
    "741852",
    "753951",
    "789456",
    "852963",
    "963852",
}
ANOTHER = "Take six digits that nobody would guess: not in order, and of no birthday, plate or phone number."


def objection(pin: str) -> str:
    """Why nobody shall take this PIN, and what would be right; blank where it will do."""
    if not (len(pin) == DIGITS and pin.isascii() and pin.isdigit()):
        return "A PIN has six digits, 0 to 9, and nothing else."
    if len(set(pin)) == 1:
        return f"This is one digit six times. {ANOTHER}"
    steps = {(int(after) - int(before)) % 10 for before, after in zip(pin, pin[1:], strict=False)}
    if len(steps) == 1:
        return f"These digits follow each other at one distance. {ANOTHER}"
    if pin[:2] * 3 == pin or pin[:3] * 2 == pin:
        return f"This is a few digits over and over. {ANOTHER}"
    if _pairs(pin) or _halves(pin) or pin in TAKEN_BY_MANY:
        return f"Many people take this one. {ANOTHER}"
    return ""


def _pairs(pin: str) -> bool:
    """Three pairs, such as 112233."""
    return all(pin[at] == pin[at + 1] for at in (0, 2, 4))


def _halves(pin: str) -> bool:
    """Two halves of one digit each, such as 111222."""
    return len(set(pin[:3])) == len(set(pin[3:])) == 1
