"""What happened that no table keeps, such as a new password: stated as a record of its own."""

from django.utils import timezone

from inventory.ledger.actions import writing
from inventory.ledger.records import moment_said

SIGN_IN = "sign-in"


def tell_sign_in(username: str, what: str, became: str) -> None:
    """That somebody's way of signing in changed, e.g. the second factor became on: never with the secret itself."""
    with writing() as ledger:
        ledger.state(SIGN_IN, username, {what: became, "at": moment_said(timezone.now())})
