"""Passwords that are guessed soon: those that were found in breaches, and what is made of them, of names, of keys that
lie side by side and of the words of this trade. No rule about which characters a password has."""

import re

from django.core.exceptions import ValidationError
from zxcvbn import zxcvbn
from zxcvbn.frequency_lists import FREQUENCY_LISTS

from inventory.shop.models import Shop

# Words of a shop that uses this program: whoever guesses tries them first. The shop's name and address come on top.
OWN_WORDS = (
    *("shopledger", "ledger", "refrigerant", "recovery", "recover", "reclaim", "charge", "cylinder", "container"),
    *("technician", "office", "owner", "inspector", "admin", "workshop", "garage", "service", "aircon", "airco"),
    *("cooling", "compressor", "evacuate", "vacuum", "r134a", "r-134a", "r1234yf", "r410a", "r32"),
)
BREACHED = frozenset(FREQUENCY_LISTS["passwords"])
LEAST_SCORE = 3  # of 0 to 4: at least 10^8 guesses by who knows how people make passwords
LOOKED_AT = 72  # characters that are judged; a longer password is taken whole, and judged by its beginning


class GuessedSoonValidator:
    """Django calls it with each new password, in Password and for others."""

    def validate(self, password: str, user: object = None) -> None:
        if password.lower() in BREACHED:
            raise ValidationError("This password stands in lists of stolen ones; choose another.", "breached")
        if zxcvbn(password[:LOOKED_AT], user_inputs=own_words(user))["score"] < LEAST_SCORE:
            raise ValidationError(
                "This password is guessed soon: it is made of words, names or keys that are tried first. Take three or "
                "four words that have nothing to do with one another or with the shop.",
                "guessed soon",
            )

    def get_help_text(self) -> str:
        return "Three or four words that have nothing to do with the shop are good; a stolen password is refused."


def own_words(user: object) -> list[str]:
    shop = Shop.current()
    named = (shop.name, shop.address, getattr(user, "username", ""), getattr(user, "name", ""))
    found = {word for text in named for word in re.findall(r"\w{3,}", (text or "").lower())}
    found |= {re.sub(r"\W", "", (text or "").lower()) for text in named} - {""}
    return [*sorted(found), *OWN_WORDS]
