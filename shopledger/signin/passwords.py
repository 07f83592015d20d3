"""Which new passwords are refused beyond Django's own rules (length, likeness to the name, a list of common ones).

There is no rule of kinds of characters, no end after so many days, and no upper length but 1,000 characters (OWASP
ASVS 5, 6.2). Words of this shop are no secret here (6.2.11): those in WORDS, the shop's name, the person's name and
username.
"""

import re

from django.contrib.auth.models import AbstractBaseUser
from django.core.exceptions import ValidationError
from zxcvbn import zxcvbn

from inventory.shop.models import Shop

WORDS = (
    "shopledger",
    "shop",
    "ledger",
    "workshop",
    "garage",
    "refrigerant",
    "coolant",
    "aircon",
    "compressor",
    "cylinder",
    "recovery",
    "technician",
    "office",
    "owner",
    "inspector",
    "admin",
)
LOOKED_AT = 72  # characters: what is longer is not judged by its end
LEAST = 3  # of zxcvbn's 0 to 4: 10^8 tries of who knows lists of passwords, names, words, keyboards and days


class GuessedFirst:
    """Refuses what a program that guesses would try among its first hundred million."""

    def validate(self, password: str, user: AbstractBaseUser | None = None) -> None:
        if zxcvbn(password[:LOOKED_AT], user_inputs=_of_this_shop(user))["score"] < LEAST:
            raise ValidationError(
                "This password is easily guessed: it is made of what is tried first (common passwords, names, words of "
                "this shop, days, neighbours on the keyboard). Take several words that do not belong together.",
                code="password_guessed_first",
            )

    def get_help_text(self) -> str:
        return "Several words that do not belong together are good; names, days and words of this shop are not."


def _of_this_shop(user: AbstractBaseUser | None) -> list[str]:
    found: list[str] = []  # what is nearest to this person first: zxcvbn counts from the first on
    for name in (Shop.current().name, getattr(user, "name", ""), getattr(user, "username", "")):
        words = [word for word in re.split(r"\W+", name.lower()) if word]
        found += [*words, "".join(words)]
    return [*found, *WORDS]
