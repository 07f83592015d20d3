"""The vehicle identification number: what 49 CFR 565.15 lets one check. No Django import.

Nothing here blocks: vehicles made before 1981 or for other markets need not follow the rule, so each
doubt is a sentence for whoever holds the vehicle's papers.
"""

from inventory.text.refusal import Refused

LENGTH = 17
VALUES = {digit: int(digit) for digit in "0123456789"}  # 49 CFR 565.15; S is 2, not 1
for _letters, _first in (("ABCDEFGH", 1), ("JKLMN", 1), ("P", 7), ("R", 9), ("STUVWXYZ", 2)):
    VALUES.update({letter: _first + step for step, letter in enumerate(_letters)})
WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)  # position 1 to 17
LOOK_ALIKES = {"I": "1", "O": "0", "Q": "0"}
NORTH_AMERICA = "12345"  # first characters of vehicles made there (from memory)
YEAR_CODES = "ABCDEFGHJKLMNPRSTVWXY123456789"  # 49 CFR 565.15: no I O Q U Z 0
FIRST_YEAR = 1980  # the code's first round of thirty years; the next begins in 2010


def normalized(text: str) -> str:
    """As it is stored: capitals, without the blanks, hyphens and dots that people put in for reading."""
    return "".join(character for character in text.upper() if character.isprintable() and character not in " -.*")


def scanned(text: str) -> str:
    """The VIN of a bar code. Raises Refused for a bar code of something else, and where the check digit of a vehicle
    made in North America does not fit: there the rule demands one. For others it need not fit, as for who types.

    Some labels put an I in front, and Code 39 has a star at both ends (both from memory).
    """
    vin = normalized(text)
    if len(vin) == LENGTH + 1 and vin[0] == "I":
        vin = vin[1:]
    if len(vin) != LENGTH or _wrong_characters(vin):
        raise Refused(
            f"This bar code is no VIN: that has {LENGTH} letters and digits, without I, O and Q. Look for another on "
            "the door post or behind the windscreen, or type it."
        )
    if vin[0] in NORTH_AMERICA and vin[8] != check_digit(vin):
        raise Refused(
            f"{vin} was misread: its check digit is {vin[8]}, and the other characters give {check_digit(vin)} (49 CFR "
            "565.15). Scan it once more; if it is printed so, type it."
        )
    return vin


def weighted_sum(vin: str) -> int:
    """The sum of value times weight. Raises ValueError unless the VIN is 17 allowed characters."""
    if len(vin) != LENGTH or any(character not in VALUES for character in vin):
        raise ValueError(f"{vin!r} is not {LENGTH} letters and digits without I, O and Q")
    return sum(VALUES[character] * weight for character, weight in zip(vin, WEIGHTS, strict=True))


def check_digit(vin: str) -> str:
    """What position 9 should hold: the sum's remainder by 11, 10 written X. Raises as weighted_sum does."""
    remainder = weighted_sum(vin) % 11
    return "X" if remainder == 10 else str(remainder)


def model_year(vin: str) -> int | None:
    """The model year that position 10 names, 1980 to 2039; None where it names none.

    Position 7 tells the round of thirty years: a digit 1980 to 2009, a letter 2010 to 2039. The rule says
    so for cars, multipurpose vehicles and trucks up to 10,000 lb gross; for others it is a guess.
    """
    if len(vin) != LENGTH or vin[9] not in YEAR_CODES:
        return None
    return FIRST_YEAR + YEAR_CODES.index(vin[9]) + (0 if vin[6].isdigit() else len(YEAR_CODES))


def warnings(vin: str, year: int | None = None) -> list[str]:
    """What looks wrong about a normalized VIN, each as a sentence. Empty: nothing does, or no VIN was given.

    year: the model year entered beside it, where there is one.
    """
    if not vin:
        return []
    found = _wrong_characters(vin)
    if len(vin) != LENGTH:
        found.append(f"This VIN has {len(vin)} characters; vehicles made since 1981 have {LENGTH}.")
    if found:
        return found
    expected = check_digit(vin)
    if vin[8] != expected:
        found.append(
            f"The check digit does not fit: position 9 is {vin[8]}, the other characters give {expected}. "
            "One of them may be misread; vehicles made for other markets than North America need not pass."
        )
    if not vin[13:].isdigit():
        found.append(f"The last four characters are {vin[13:]}; they should all be digits.")
    if vin[9] not in YEAR_CODES:
        found.append(f"Position 10 is {vin[9]}, which names no model year.")
    elif year is not None and year not in _years_of(vin[9]):
        found.append(
            f"Position 10 names model year {model_year(vin)}, but {year} was entered. Check both; "
            "vehicles made for other markets than North America may use that position otherwise."
        )
    return found


def _years_of(code: str) -> set[int]:
    first = FIRST_YEAR + YEAR_CODES.index(code)
    return {first, first + len(YEAR_CODES)}


def _wrong_characters(vin: str) -> list[str]:
    found = []
    for place, character in enumerate(vin, start=1):
        if character in LOOK_ALIKES:
            found.append(
                f"Position {place} is the letter {character}, which no VIN holds; "
                f"perhaps the digit {LOOK_ALIKES[character]}."
            )
        elif character not in VALUES:
            found.append(f"Position {place} is {character!r}; a VIN holds capital letters and digits alone.")
    return found
