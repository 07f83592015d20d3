"""Text that people type, as it is kept and as it is searched. No Django import."""

import unicodedata

from inventory.text.refusal import Refused


def one_line(text: str | None, field: str, *, called: str, longest: int, required: bool = False) -> str:
    """The text on one line, Unicode NFC, runs of blanks made one.

    called: what the field is called in a sentence. longest: characters that fit.
    Raises Refused for control characters, a text that is too long, or nothing where something is required.
    """
    text = " ".join(_kept(text, field, called).split())
    if required and not text:
        raise Refused(f"The {called} is missing; it must hold at least one character.", field)
    if len(text) > longest:
        raise Refused(f"The {called} has {len(text)} characters; at most {longest} fit.", field)
    return text


def paragraph(text: str | None, field: str, *, called: str, longest: int = 5000) -> str:
    """Text of several lines, line feeds kept. Raises Refused as one_line does."""
    text = _kept((text or "").replace("\r\n", "\n").replace("\r", "\n"), field, called).strip()
    if len(text) > longest:
        raise Refused(f"The {called} has {len(text)} characters; at most {longest} fit.", field)
    return text


def folded(*texts: object) -> str:
    """The texts as one, for finding: no case, no accents, no compatibility forms, one blank between words.

    Databases disagree on the case of letters outside ASCII (SQLite's LIKE knows none), so both what is
    searched and what is searched for go through here.
    """
    text = " ".join(str(text) for text in texts if text not in (None, ""))
    text = "".join(" " if unicodedata.category(sign) in {"Cc", "Cs"} else sign for sign in text)
    spread = unicodedata.normalize("NFKD", text.casefold())
    bare = "".join(character for character in spread if not unicodedata.combining(character))
    return " ".join(unicodedata.normalize("NFC", bare.casefold()).split())


def squeezed(text: str) -> str:
    """Letters and digits alone, folded: plates are written with and without blanks and hyphens."""
    return "".join(character for character in folded(text) if character.isalnum())


def _kept(text: str | None, field: str, called: str) -> str:
    text = unicodedata.normalize("NFC", text or "")
    for character in text:
        if character not in "\n\t" and unicodedata.category(character) in {"Cc", "Cs"}:
            raise Refused(
                f"The {called} holds the control character U+{ord(character):04X}, which cannot be kept; type it anew.",
                field,
            )
    return text
