"""Text as the ledger keeps it."""

import re
import unicodedata

from inventory.text.refusal import Refused

HALF = re.compile("[\ud800-\udfff]")  # of a character that takes two; no database keeps one


def clean(text: str, field_name: str | None = None, most: int | None = None) -> str:
    """Text as the ledger keeps it: Unicode NFC, lines ended by a line feed (browsers send CR LF), without the
    characters that databases or readers lose. most: characters that there is room for.
    Raises Refused, naming the character or the length."""
    text = unicodedata.normalize("NFC", str(text)).replace("\r\n", "\n").replace("\r", "\n").strip()
    for character in text:
        if character not in "\n\t" and unicodedata.category(character) in {"Cc", "Cs"}:
            raise Refused(
                f"This text holds the control character U+{ord(character):04X}, which cannot be kept; type it anew.",
                field_name,
            )
    if most is not None and len(text) > most:
        raise Refused(f"This text is {len(text)} characters long; {most} are the most. Shorten it.", field_name)
    return text
