"""What the owner does about the health of the records."""

from django.utils import timezone

from inventory.ledger.actions import writing
from inventory.ledger.clocks import ALL, SEEN, unseen
from inventory.ledger.records import moment_said


def clocks_seen(by: str) -> int:
    """Somebody has seen what was noted of clocks, which is told from then on in the trail alone; how much it was."""
    with writing() as ledger:
        count = unseen().count()
        if count:
            said = {"by": by, "through": ledger.number, "at": moment_said(timezone.now())}
            ledger.state(SEEN, ALL, said, new=True)
    return count
